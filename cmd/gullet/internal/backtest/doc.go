// Package backtest replays the stored history of the blades forward in time: what
// would each policy of changing them have decided with what was known when a blade was
// hung, what would have come of it, and how well were the blades foretold.
//
// Its one opinion: what nobody saw is not made up. A blade that was pulled early says
// nothing of how it would have gone on, so under a policy that runs it further its
// outcome is not known, and those that are known count for it. Where nobody ran blades
// so far, that is said, and no policy is judged there.
//
// The plan decides here at the end of each shift, by the lives known when the blade was
// hung and by its deviation up to then; every other policy changes at an age. What is
// decided at a moment never looks at a cut after it.
//
// It knows no coming jobs, no clock and no database but what it is handed, and its random
// numbers are seeded.
package backtest
