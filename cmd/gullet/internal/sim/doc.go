// Package sim is a saw shop whose truth is known: five invented production
// band saws that publish what real ones would, under the message contract, for
// `gullet simulate`, `gullet demo` and the tests.
//
// It knows a generative model (blade wear, deviation, the ends of blades,
// stops) with stated parameters, and keeps what really happened beside what was
// said, so that an estimate can be compared with the truth. Every number of the
// model is invented for the purpose or common practice; none is a measurement.
// The package refuses to know how readings travel, are stored or judged: it
// uses nothing of the code it is there to test but the names of the trade.
//
// The same options give the same bytes. Each saw draws from streams of its own,
// so that leaving a saw out does not change the others (except that a blade can
// only move between two saws that are both there).
//
// Section areas here come from a small table of its own (published weight per
// foot over 3.4, or the formula on the nominal wall), on purpose not from the
// section package: the two are checked against each other.
package sim
