// Package analyze is the ground floor of Gullet: the vocabulary of a sawing
// shop (saw, blade, fitting, cut, trip, break, stop) and the arithmetic that
// needs nothing but its arguments.
//
// It knows what a reading means and how square inches follow from it. It
// refuses to know where a reading came from, where it is kept, what time it is
// and how the shop is configured: no MQTT, no SQL, no clock, no configuration,
// no logging. Time and random numbers enter as arguments.
//
// Units inside Gullet are those of the trade in inches: lengths in inches (in),
// areas in square inches (in²), band speed in feet per minute (ft/min), feed in
// inches per minute (in/min), pressure in pounds per square inch (psi), time in
// the cut in seconds (s), angles in degrees from a square cut. Other units are
// converted once, where they enter.
//
// An unknown number is a nil pointer, never zero.
package analyze
