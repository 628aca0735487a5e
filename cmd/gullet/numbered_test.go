//go:build !race

package main

// numbered is how many readings the kill tests publish.
const numbered = 100_000
