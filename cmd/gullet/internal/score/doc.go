// Package score holds the forecasts that were kept against what came: whether the
// windows held, how far they were off beside simple rivals, whether the ends of blades
// were foreseen, what was changed early and what the changes cost.
//
// Its one opinion: forecasts of one blade end in one outcome, so every interval is over
// blades and not over forecasts. What nobody saw the end of stays so: a blade that was
// changed early or is still on is no proof for or against.
//
// The package knows the ledger and the plan's words for what a forecast counts as
// done. Outcomes are weighed by what is known of the materials today, the forecasts
// were made by what was known then.
package score
