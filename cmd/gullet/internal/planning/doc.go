// Package planning puts the change plan together: from the lives of the blades, the
// deviations of the saws, the coming jobs and the shop's calendar to when each blade
// is best changed, what that costs and what must be on the shelf.
//
// The mathematics are those of analyze/plan and analyze/shift; what is here decides
// what a saw's coming work is, which boundary a change may fall on, and says it in
// words. It commands nothing: a plan is advice, and a person changes the blade.
package planning
