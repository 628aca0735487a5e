//go:build !race

package trend

// lookEvery is how many days lie between two looks.
const lookEvery = 1
