package backtest

import (
	"gullet/analyze"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/lives"
	"gullet/store"
)

// leftOut counts what of the history cannot be judged, or is in doubt.
type leftOut struct {
	unnamed       int             // fittings
	unaged        map[string]bool // ended with nothing counted
	untold, short int             // blades off for a reason nobody told; with passes of unknown area
}

// out reports whether a fitting is of no blade that can be judged.
func (l *leftOut) out(f *store.FittingRow, whole *lives.Blade) bool {
	switch {
	case whole == nil:
		l.unnamed++
		return true
	case whole.Ended() && whole.Area == 0:
		if l.unaged == nil {
			l.unaged = map[string]bool{}
		}
		l.unaged[f.Serial] = true
		return true
	}
	return false
}

// notice looks at a blade that is judged.
func (l *leftOut) notice(b *lives.Blade) {
	if !b.Running && b.Reason == analyze.ReasonUnknown {
		l.untold++
	}
	if b.AreaUnknown > 0 {
		l.short++
	}
}

func (l *leftOut) doubts() (list []string) {
	say := func(n int, one, many, rest string) {
		if n > 0 {
			list = append(list, figures.Plural(n, one, many)+" "+rest)
		}
	}
	say(l.unnamed, "fitting", "fittings", "of a blade that nobody named left out")
	say(len(l.unaged), "blade", "blades", "that ended with nothing counted left out: the age at the end is not known")
	say(l.untold, "blade", "blades", "left a saw for a reason nobody told, counted as pulled early and as a planned change of the shop's")
	say(l.short, "blade", "blades", "made passes whose area is not known: what they cut is told too low")
	return list
}
