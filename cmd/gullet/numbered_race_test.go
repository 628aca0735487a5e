//go:build race

package main

// numbered is smaller under the race detector, which slows everything about
// tenfold; the full number runs without it.
const numbered = 10_000
