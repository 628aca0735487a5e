package sim

import (
	"maps"
	"slices"
	"time"

	"gullet/analyze"
)

// Truth is what really happened in a Shop, and which of it was told wrongly.
// Times are true ones, also where the saw's own clock was wrong.
type Truth struct {
	Saws    []SawTruth
	Blades  []BladeTruth // in order of first fitting
	Faults  []Fault
	Missing []Missing // readings that were numbered and never sent

	Duplicates int            // lines sent a second time, byte for byte
	Late       int            // readings sent after one or more that came later
	Rejects    map[string]int // lines that break the contract, by what is wrong: see the Wrong constants
}

// What can be wrong with a line that breaks the contract.
const (
	WrongJSON      = "json"      // cut off in the middle
	WrongMissing   = "missing"   // a cut without its seconds
	WrongDeviation = "deviation" // a deviation of ten inches
	WrongMitre     = "mitre"     // 90 for a square cut, over the limit of 85 degrees
	WrongRetained  = "retained"  // an event of days ago as the broker's last value
)

// SawTruth sums up one saw. Areas in in².
type SawTruth struct {
	Name     string
	Messages map[analyze.Kind]int // distinct readings sent that keep the contract
	Shifts   int                  // begun
	Cuts     int                  // finished
	Trips    int
	Area     float64                  // really cut
	InCut    time.Duration            // blade in the metal
	Down     map[string]time.Duration // by cause, without "off"
}

// BladeTruth is the life of one serial. Areas in in².
type BladeTruth struct {
	Serial   string
	Type     string
	Lot      string
	Quality  float64 // its life over the reference life; median 1
	Fittings []FittingTruth
	End      analyze.EndReason // of the last fitting; "" while it is on a saw

	Area     float64            // really cut
	ByGrade  map[string]float64 // really cut, by the grade's name as sent
	Weighted float64            // area × severity
	Told     float64            // sum over the readings sent that keep the contract, read literally
	Untold   float64            // of Area: stopped cuts whose share done was not told
	Cuts     int                // finished
	Trips    int
	Bends    float64 // of the band over a wheel, two per revolution
}

// FittingTruth is one stay of a blade on a saw.
type FittingTruth struct {
	Saw      string
	From, To time.Time         // To is zero while it is on the saw
	Reason   analyze.EndReason // "" while it is on the saw
}

// Fault is one injected untruth or trouble. To is zero when it is a moment.
type Fault struct {
	Name     string
	Saw      string // "" = all
	From, To time.Time
	Note     string
}

// Missing is one reading that never left its saw; Area is what it would have
// told.
type Missing struct {
	Saw  string
	Seq  int64
	ID   string
	Kind analyze.Kind
	At   time.Time
	Area float64
}

// Fault finds the first fault of a name.
func (t Truth) Fault(name string) (Fault, bool) {
	i := slices.IndexFunc(t.Faults, func(f Fault) bool { return f.Name == name })
	if i < 0 {
		return Fault{}, false
	}
	return t.Faults[i], true
}

// clone is a copy that no longer changes.
func (t Truth) clone() Truth {
	t.Saws = slices.Clone(t.Saws)
	for i := range t.Saws {
		t.Saws[i].Messages = maps.Clone(t.Saws[i].Messages)
		t.Saws[i].Down = maps.Clone(t.Saws[i].Down)
	}
	t.Blades = slices.Clone(t.Blades)
	for i := range t.Blades {
		t.Blades[i].Fittings = slices.Clone(t.Blades[i].Fittings)
		t.Blades[i].ByGrade = maps.Clone(t.Blades[i].ByGrade)
	}
	t.Faults = slices.Clone(t.Faults)
	t.Missing = slices.Clone(t.Missing)
	t.Rejects = maps.Clone(t.Rejects)
	return t
}

// wrong counts a line that breaks the contract.
func (t *Truth) wrong(what string) {
	if t.Rejects == nil {
		t.Rejects = map[string]int{}
	}
	t.Rejects[what]++
}
