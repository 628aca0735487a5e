// Package section knows the cross-sections a band saw meets: bar, tube and
// structural shapes, how the trade designates them, the area one cut goes
// through, how much of the blade is in the metal along the way and how many
// teeth that is.
//
// A Section is one bar as it lies on the saw. It comes from a designation
// (Parse) or from an object with its dimensions (FromJSON). Area is the square
// cut through one bar; Contact and Chord say what the blade meets in one Pass,
// Stretches, Thinnest and Shares how that goes along the stroke.
//
// It refuses to guess. A rolled shape has an area by its published weight, but
// a contact length only when its dimensions are known. It knows nothing of
// grades, usual rates or speeds and recommends no pitch.
//
// Its figures are those of the nominal section. The bar on the saw differs:
// weight and area of structural shapes by about 2.5 %, the wall of a welded
// tube by up to 10 % (mill tolerances, from memory). Three significant figures
// are all that may be claimed. Tubes are sawn on their nominal wall, so tubes
// are counted on it; structural tables that give the area on a design wall of
// 0.93 of the nominal one understate the metal cut by 6 to 7 %.
//
// Lengths are in inches, areas in square inches, weights in pounds per foot,
// angles in degrees from a square cut.
package section
