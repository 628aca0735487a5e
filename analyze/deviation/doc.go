// Package deviation reads how far cuts wander from square against the area
// their blade has cut.
//
// Its one opinion: the line through the deviations must not be bent by a wild
// reading, for a sensor knocked by a chip is commonplace. So it is the median
// of the slopes between the points, and its doubt comes from ranks, not from an
// assumed normal scatter.
//
// For forecasts the deviation is a level that drifts as the blade wears, followed
// cut by cut (Wear), and the limit is reached when that level first gets there
// (Passage). Charts and breaks find what wear does not explain: give them what is
// left beside the wear line, for a trend alone is not out of control.
//
// The package is pure: it refuses to know saws, blades and limits by name, what
// length a deviation was divided by and why a cut wandered. Points of one line
// belong to one blade on one saw; the caller keeps them apart.
package deviation
