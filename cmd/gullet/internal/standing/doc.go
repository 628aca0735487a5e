// Package standing tells why the saws stood still: it gathers what each saw did from
// the store, by shop days, and makes the downtime report of them, in figures and in
// words.
//
// It knows the shop's causes, shifts and units. Time lines, elements of time and
// statistics are those of package downtime; how time is told apart is not decided
// here. Whole days that are past are summed up once and kept (Maintain), so that a
// year is read in little time; a day that runs, and any that a late reading or a
// person's word has touched, is summed up anew from the readings.
package standing
