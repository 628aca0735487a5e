// Package lives answers how long blades last: by type, saw, class of material
// or lot, how each ended, what a square inch costs and whether two groups
// really differ.
//
// The blades come from the store (shop.go) or from a shop's own list (csv.go)
// and are studied by one function, Study, so that both give one answer. The
// statistics are those of analyze/life; what is here decides what is an
// observation, on which clock, and says in words what came out. It commands
// nothing and decides no change.
package lives

import (
	"cmp"
	"slices"
)

// Row is one blade as it was watched.
type Row struct {
	Name  string // serial, or where it stands in its list
	Group string
	Kind  string  // blades of one kind last alike but for what they cut
	Start float64 // in² cut before anyone kept count
	Area  float64 // in² cut in all
	Ended bool
	Cause string // how it ended, "" when nobody said
	Off   bool   // it is off the saw for good, ended or not
	// Cut is in² by class, parallel to Data.Classes, nil where nobody told. A
	// grade that wears faster than its class counts for more of it, so that the
	// weight of a class is one number.
	Cut  []float64
	Last int // class in the cut at its end, -1 when not known
	// LastWear is how fast the grade in that cut wears relative to its class.
	LastWear float64
	Bends    *float64 // band bends in all, nil when not known
	// BendsPerArea is bends per in² in the cut at its end, nil when not known.
	BendsPerArea *float64
	Price        *float64
	X            []float64 // parallel to Data.Covariates
}

// Class is a class of material.
type Class struct {
	Name string
	// Severity is wear per in² relative to the reference class as configured,
	// NaN where nobody did.
	Severity float64
	// Fixed says that the severity is an assumption that no data may move.
	Fixed bool
}

// Data is what a study is made of.
type Data struct {
	Rows       []Row
	Classes    []Class // empty where nobody told what was cut
	Reference  int     // index in Classes of the one whose weight is 1
	Covariates []string
	Doubts     []string // what a person should know of the data
}

// all is the name of the group of all blades.
const all = "all"

// groups lists the names of the groups in order.
func (d *Data) groups() []string {
	var names []string
	for i := range d.Rows {
		names = append(names, d.Rows[i].Group)
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// GroupedBy is what the groups are called where nobody chose them.
func (d *Data) GroupedBy() string {
	if slices.Equal(d.groups(), []string{all}) {
		return ByNone
	}
	return colGroup
}

// of lists the rows of a group; of all is every row.
func (d *Data) of(group string) []*Row {
	var rows []*Row
	for i := range d.Rows {
		if group == all || d.Rows[i].Group == group {
			rows = append(rows, &d.Rows[i])
		}
	}
	return rows
}

// named is a name that may be missing.
func named(name, none string) string { return cmp.Or(name, none) }
