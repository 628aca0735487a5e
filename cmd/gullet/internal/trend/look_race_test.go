//go:build race

package trend

// lookEvery is how many days lie between two looks: the race detector makes each six
// times as slow, and finds nothing in figures that it does not find in a few.
const lookEvery = 3
