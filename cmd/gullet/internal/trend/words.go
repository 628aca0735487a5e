package trend

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"gullet/analyze/deviation"
	"gullet/cmd/gullet/internal/figures"
)

// words says findings in the units of the shop.
type words struct {
	style figures.Style
	over  bool
	unit  string
	gap   *float64 // in, between the guides of the saw
}

// deviationUnit is the unit deviations are written in. A thousandth of an inch
// over an inch is a micrometre over a millimetre.
func (w words) deviationUnit() string {
	switch {
	case w.over && w.style.Metric:
		return "µm/mm"
	case w.over:
		return "mil/in"
	}
	return w.style.LengthUnit()
}

// number writes a deviation without its unit.
func (w words) number(x float64) string {
	if w.over {
		return figures.Signed(1000*x, 2)
	}
	return w.style.Length(x)
}

// slope writes a deviation that goes with an area, to one digit more.
func (w words) slope(x float64) string {
	if w.over {
		return figures.Signed(1000*x, 3)
	}
	return figures.Signed(x, 5)
}

// interval writes a deviation with its limits and its unit.
func (w words) interval(value, low, high float64) string {
	if math.IsNaN(low) {
		return w.number(value) + " " + w.deviationUnit()
	}
	return fmt.Sprintf("%s %s (%s to %s)", w.number(value), w.deviationUnit(), w.number(low), w.number(high))
}

func (w words) fact(f deviation.Fact) string { return w.interval(f.Value, f.Low, f.High) }

// ratio writes ln of a ratio as a change in per cent.
func ratio(x float64) string { return figures.Signed(100*(math.Exp(x)-1), 0) + " %" }

func ratios(f deviation.Fact) string {
	return fmt.Sprintf("%s (%s to %s)", ratio(f.Value), ratio(f.Low), ratio(f.High))
}

func first(f deviation.Finding, what deviation.What) (deviation.Fact, bool) {
	for _, x := range f.Facts {
		if x.What == what {
			return x, true
		}
	}
	return deviation.Fact{Value: math.NaN(), Low: math.NaN(), High: math.NaN()}, false
}

// sentence is a finding in words.
func (w words) sentence(f deviation.Finding) string {
	if turn, ok := first(f, deviation.FactTurn); ok {
		return "the deviation comes back with every turn of the " + turn.Name
	}
	with, _ := first(f, deviation.FactWith)
	switch f.Kind {
	case deviation.SawAlignment:
		off, _ := first(f, deviation.FactOffset)
		if _, open := first(f, deviation.FactStep); open {
			return "the cut stepped aside within one blade, now " + w.fact(off) + " off: most likely the saw; the next blade decides"
		}
		return "the saw stands off by " + w.fact(off) + ", whatever blade is on"
	case deviation.BladeWear:
		if _, stepped := first(f, deviation.FactStep); stepped {
			return "the cut stepped aside with this blade only: teeth may be gone on one side"
		}
		return "the blade wanders off as it wears"
	case deviation.GuideGap:
		if tall, ok := first(f, deviation.FactTall); ok {
			return "tall cuts wander further for their height, by " + w.fact(tall)
		}
		return "cuts go to one side and the other in turn"
	case deviation.FeedPushed:
		return "fast cuts are further off, by " + w.fact(with) + ": the feed may be pushed"
	case deviation.GradeOnly:
		return fmt.Sprintf("cuts in %s are further off than the others, by %s", grade(with.Name), w.fact(with))
	case deviation.MitreOnly:
		return "mitred cuts stand off from square ones by " + w.fact(with)
	case deviation.Lot:
		lot, _ := first(f, deviation.FactLot)
		return fmt.Sprintf("blades of lot %s wander off %.1f times as fast as others (%.1f to %.1f)", lot.Name, lot.Value, lot.Low, lot.High)
	case deviation.SensorFault:
		if _, ok := first(f, deviation.FactIdle); ok {
			return "the saw trips while it is not cutting"
		}
		return "the deviation sensor tells the same again and again"
	case deviation.UnloggedChange:
		return "blade changed" + w.about(f.Since) + "? Nobody logged it: confirm or dismiss; until then it is taken for the same"
	}
	return "every grade is cut slower than it was, on one blade after the other"
}

// about is a moment that is not known to the minute.
func (w words) about(at time.Time) string {
	if at.IsZero() {
		return ""
	}
	return " about " + at.In(w.style.Zone).Format("15:04 on 2 Jan")
}

func grade(name string) string {
	if name == "" {
		return "cuts with no grade named"
	}
	return name
}

// evidence is the number behind a finding.
func (w words) evidence(kind deviation.Kind, f deviation.Fact) string {
	switch f.What {
	case deviation.FactOffset:
		return fmt.Sprintf("offset common to the blades %s, %s followed", w.fact(f), figures.Plural(f.N, "fitting", "fittings"))
	case deviation.FactSurvived:
		if f.N == 0 {
			return "no blade has been changed since"
		}
		return "outlived " + figures.Plural(f.N, "change of blade", "changes of blade")
	case deviation.FactStep:
		if kind == deviation.BladeWear {
			return "chance that the step is this blade's: " + figures.Odds(f.Value)
		}
		return fmt.Sprintf("chance that the step is the blade's instead: %s", figures.Odds(f.Value))
	case deviation.FactStart:
		return fmt.Sprintf("blade %s began at %s, n=%d", blade(f.Name), w.fact(f), f.N)
	case deviation.FactSlope:
		return fmt.Sprintf("slope %s %s (%s to %s) per 1,000 %s, n=%d", w.slope(f.Value), w.deviationUnit(), w.slope(f.Low), w.slope(f.High), w.areaUnit(), f.N)
	case deviation.FactShare:
		return fmt.Sprintf("level at %.0f %% of the trip limit, n=%d", 100*f.Value, f.N)
	case deviation.FactOdds:
		return "chance of a trip within the next shift " + figures.Odds(f.Value)
	case deviation.FactPace:
		return w.paceEvidence(kind, f)
	case deviation.FactBefore:
		return fmt.Sprintf("blade %s before it: pace %s, n=%d", blade(f.Name), ratios(f), f.N)
	case deviation.FactSlowing:
		return fmt.Sprintf("as much wear changes the pace of this saw's blades by %s", ratio(f.Value))
	case deviation.FactTall:
		return fmt.Sprintf("tall against low cuts %s further off, n=%d", w.fact(f), f.N)
	case deviation.FactHeights:
		text := fmt.Sprintf("held against each other at heights of %s and %s %s", w.length(f.Low), w.length(f.High), w.style.LengthUnit())
		if w.gap != nil {
			text += fmt.Sprintf("; the configured guide gap is %s %s", w.length(*w.gap), w.style.LengthUnit())
		}
		return text
	case deviation.FactAlternate:
		return fmt.Sprintf("correlation of each reading with the one before %.2f (%.2f to %.2f), n=%d", f.Value, f.Low, f.High, f.N)
	case deviation.FactWith:
		return fmt.Sprintf("%s, n=%d", w.fact(f), f.N)
	case deviation.FactOthers:
		if kind == deviation.SensorFault {
			return figures.Plural(f.N, "other trip", "other trips") + " while it cut"
		}
		if kind == deviation.Lot {
			return "against " + figures.Plural(f.N, "other blade", "other blades")
		}
		return "against " + figures.Plural(f.N, "other cut", "other cuts") + " on the same blades"
	case deviation.FactLot:
		return fmt.Sprintf("%.2f times the drift (%.2f to %.2f) over %s", f.Value, f.Low, f.High, figures.Plural(f.N, "blade", "blades"))
	case deviation.FactSaws:
		return "on " + figures.Plural(f.N, "saw", "saws")
	case deviation.FactSame:
		return fmt.Sprintf("the last %d readings are all %s %s", f.N, w.style.Length(f.Value), w.style.LengthUnit())
	case deviation.FactIdle:
		return figures.Plural(f.N, "trip", "trips") + " while the saw said it was not cutting"
	case deviation.FactTurn:
		return fmt.Sprintf("swings by %s to either side with every turn, n=%d", w.fact(f), f.N)
	case deviation.FactDrop:
		return fmt.Sprintf("readings came %s nearer to square at once, n=%d", w.fact(f), f.N)
	}
	return ""
}

func (w words) paceEvidence(kind deviation.Kind, f deviation.Fact) string {
	switch kind {
	case deviation.Machine:
		return fmt.Sprintf("%s: pace %s beside its standard, n=%d", grade(f.Name), ratios(f), f.N)
	case deviation.UnloggedChange:
		return fmt.Sprintf("cuts of the same grade and size got faster by %s at once, n=%d", ratios(f), f.N)
	}
	return fmt.Sprintf("pace in in²/min beside the same grade and size %s, wear allowed for, n=%d", ratios(f), f.N)
}

func (w words) areaUnit() string {
	if w.unit == unitCuts {
		return unitCuts
	}
	return "in²"
}

func (w words) length(in float64) string {
	if w.style.Metric {
		return strconv.FormatFloat(in*25.4, 'f', 0, 64)
	}
	return strconv.FormatFloat(in, 'f', 1, 64)
}

func blade(name string) string {
	if name == "" {
		return "(not named)"
	}
	return name
}

// checks is what to look at first, in order; from the project's domain reference,
// section 4.4, common practice.
func checks(f deviation.Finding) []string {
	if turn, ok := first(f, deviation.FactTurn); ok {
		if turn.Name == deviation.TurnBand {
			return []string{"weld", "bent or chipped spot on the band"}
		}
		return []string{"wheels: damage and bearings", "chips on a wheel"}
	}
	switch f.Kind {
	case deviation.SawAlignment:
		return []string{"guides: wear, and square to the table", "guide arm: tight", "vise and stock rest: square to the band", "the blade last: a new one does not clear it"}
	case deviation.BladeWear:
		if _, stepped := first(f, deviation.FactStep); stepped {
			return []string{"teeth and set: chipped or gone on one side", "chip brush", "change the blade where teeth are gone"}
		}
		return []string{"what the blade has cut against the B10 of its type (gullet blades)", "teeth and set: dull or worn to one side", "change it before it trips again and again"}
	case deviation.GuideGap:
		if _, ok := first(f, deviation.FactTall); ok {
			return []string{"guide arm: as close to the work as it goes", "band tension"}
		}
		return []string{"guide arm clamp", "band tension", "set of the teeth, both sides"}
	case deviation.FeedPushed:
		return []string{"feed setting against the standard of the grade", "chip load (gullet section)", "who needs the time, and why"}
	case deviation.GradeOnly:
		return []string{"feed and chip load for this grade", "pitch for its sections (gullet section)", "hardness of the bars"}
	case deviation.MitreOnly:
		return []string{"angle calibration: swivel or tilt stop", "blade tilt at the reference angle"}
	case deviation.Lot:
		return []string{"weld and set of the blades left in the lot", "break-in record", "the supplier, with these numbers"}
	case deviation.SensorFault:
		return []string{"probe: clean, tight, zero", "chips on the sensor", "its cable and its zero after cleaning"}
	case deviation.UnloggedChange:
		return []string{"ask who changed it, then gullet correct fit", "if nobody did, gullet correct same"}
	}
	return []string{"band speed and feed setpoints against the log", "hydraulics and feed valve", "coolant"}
}
