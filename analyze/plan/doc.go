// Package plan answers which blade to change when: how long the blade that is on
// will last along the coming work, at which age or before which job changing costs
// least, how many blades an area takes, and how past forecasts did.
//
// Its one opinion: a blade is changed early because that costs less in the long
// run or because the shop bears no more risk, and never because of its age alone.
// Where early ends or chance rule, changing early does not help, and the answer
// says so.
//
// The package knows survival functions, areas and costs. It refuses to know where
// a survival comes from (a fitted life, a deviation on its way to the limit, what
// the shop believes), the calendar, who changes the blade, and what money is
// called. It is pure: no time, no input or output, and no randomness without a
// seed passed in. All areas of one question are in one unit, that in which its
// survival functions count; all costs in one currency.
//
// The caller keeps one promise: a survival function is 1 at 0, never rises, and
// is good to rounding (a relative 1e-9 or so) where the answer is to be.
package plan
