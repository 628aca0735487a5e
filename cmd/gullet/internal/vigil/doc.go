// Package vigil looks over the shop for what may deserve a message: it turns the answers
// that Gullet has already into facts for package alert, each with its level, the time of
// the newest reading that it rests on, and its words.
//
// A quick look (Quick) goes by the newest floor and a few short queries; a slow one (Slow)
// makes the change plan; Own is about Gullet itself. Watch says when each is due and hands
// what was found to whoever decides.
//
// It computes no statistics of its own and knows no thresholds: it reports levels, and a
// level that is not known as such. It tells nobody, commands nothing, and refuses to take
// history for the present: a fact from readings that came long after they were made
// carries their time.
package vigil
