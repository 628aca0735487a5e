// Package shift is the shop's calendar: which shifts each saw has, where they
// begin and end, and how much of a stretch of time is working time.
//
// A shop writes its shifts by the clock on its wall; everything that comes out
// is in moments and elapsed time. So a night shift is 7 or 9 hours on the nights
// on which the clock is changed, and no sum loses or doubles that hour.
//
// Stretches are half-open, [From, To): the end of one shift is the beginning of
// the next, and a moment is in one shift at most. A shift belongs to the date
// it begins on. Equal calendars give equal answers; nothing is kept between
// calls, and a calendar may be read by many at once.
//
// It refuses to know what a saw did: overtime nobody configured is no shift,
// and whoever looks at cuts outside every shift must say how they count.
package shift
