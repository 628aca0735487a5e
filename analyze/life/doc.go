// Package life answers how much area a kind of blade cuts before it ends, and
// how much a blade that has already cut some has left.
//
// Its one opinion: a blade that was pulled early, or is still on the saw, has
// not ended. It is counted for the area it ran and for nothing more (it is
// censored). The mean of the ended blades alone is about half the truth in a
// shop that changes blades in time.
//
// Doubt is part of every answer. An estimate carries its 95 % limits, what is
// left of a blade is given as three quantiles that contain the doubt about the
// fit itself, and where the ends are too few there is an error that says so in
// place of a number.
//
// The package is pure: it refuses to know blades, saws and materials by name,
// how area was measured, why a blade ended and where the observations are kept.
// Area has one unit throughout, that of the observations (in² within Gullet).
// The caller keeps one promise: whether a blade was pulled early did not depend
// on how soon it would have ended. A blade pulled because it looked bad has
// ended.
package life
