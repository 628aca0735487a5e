// Package backtest replays the stored history of the blades forward in time: what
// would each policy of changing them have decided with what was known when a blade was
// hung, what would have come of it, and how well were the blades foretold.
//
// Its one opinion: what nobody saw is not made up. A blade that was pulled early says
// nothing of how it would have gone on, so under a policy that runs it further its
// outcome is not known, and those that are known count for it. Where nobody ran blades
// so far, that is said, and no policy is judged there.
//
// It refuses to know a saw's deviation: the plan that is judged here sees lives only,
// and a change falls on its age, not on the end of a shift or a job. It knows no clock
// and no database but what it is handed, and its random numbers are seeded.
package backtest
