// Package alert decides what of a shop deserves a message: which conditions stand, with
// hysteresis and minimum durations, and which channel is told of them, when, and with
// how many others in one message.
//
// A condition is raised once, updated when what it says changes, and closed; it is not
// repeated. Whether a channel is told is decided from what stands against what that
// channel was told last, never from the moment something changed: so quiet hours, caps,
// a snooze, a crash or a restart delay a message and lose none.
//
// It refuses to know where facts come from, how a message is delivered and what it looks
// like. Time enters as an argument. It never judges whether work at a saw is safe.
package alert
