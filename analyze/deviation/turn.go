package deviation

import (
	"math"
	"time"

	"gonum.org/v1/gonum/stat/distuv"
)

// Turn is a deviation that comes back with every turn of a band or a wheel.
type Turn struct {
	Size     float64 // half of what it swings by
	Readings int
	Runs     int // stretches of readings close enough in time
	P        float64
	Chance   float64
}

// What turns.
const (
	TurnBand  = "band"
	TurnWheel = "wheel"
)

const (
	// leastTurn is the part of the scale that a swing must have to be told.
	leastTurn = 0.05
	// minRun is the fewest readings of a stretch.
	minRun = 16
	// perTurn is the fewest readings a turn must have: Nyquist's two and a little.
	perTurn = 2.5
)

// Turns looks for a deviation that goes with the turns of what has a
// circumference in ft and runs at the band's speed. Only stretches of readings that
// follow each other closely enough within a turn say anything: one reading a cut
// does not. In each the turns are counted from its first reading on, the wear line
// of the stretch is taken off, and with r what is left, of variance s², over n
// readings at turns t
//
//	|Σ r·exp(2πi·t)|² / (n·s²)
//
// is exponential where nothing turns, whatever the phase; of k stretches the sum is
// gamma with shape k. It is zero where no stretch is close enough.
//
// The chance is the greatest that P leaves for it, Sellke, Bayarri and Berger
// 2001, Am. Statistician 55:62 [from memory]; the periodogram at unequal steps,
// Scargle 1982, Astrophys. J. 263:835 [from memory].
func (p *Pool) Turns(cuts []Cut, circumference float64) (t Turn) {
	if !(circumference > 0) {
		return t
	}
	sum, swing := 0.0, 0.0
	for from := 0; from < len(cuts); {
		to := from + 1
		for ; to < len(cuts) && follows(&cuts[to-1], &cuts[to], circumference); to++ {
		}
		if run := cuts[from:to]; len(run) >= minRun {
			power, size := p.turning(run, circumference)
			sum += power
			swing += size * size * float64(len(run))
			t.Readings += len(run)
			t.Runs++
		}
		from = to
	}
	if t.Runs == 0 {
		return t
	}
	t.Size = math.Sqrt(swing / float64(t.Readings))
	t.P = distuv.Gamma{Alpha: float64(t.Runs), Beta: 1}.Survival(sum)
	against := (1 - chanceContrast) / chanceContrast
	if t.P > 0 {
		against *= -math.E * t.P * math.Log(t.P)
	} else {
		against = 0
	}
	if t.P < 1/math.E {
		t.Chance = 1 / (1 + against)
	}
	return t
}

// follows reports whether two readings lie within a part of a turn.
func follows(a, b *Cut, circumference float64) bool {
	gap := b.At.Sub(a.At)
	return a.known() && b.known() && gap > 0 && turned(gap, b.Speed, circumference) < 1/perTurn
}

func turned(gap time.Duration, speed, circumference float64) float64 {
	if !(speed > 0) {
		return math.Inf(1)
	}
	return gap.Minutes() * speed / circumference
}

// turning is the power of one stretch at the turns, and half its swing.
func (p *Pool) turning(run []Cut, circumference float64) (power, size float64) {
	list := make([]marked, len(run))
	for i := range run {
		list[i] = marked{run[i].At.Sub(run[0].At).Seconds(), run[i].Deviation, 1, 0}
	}
	left, _ := beside(list)
	var re, im, turns float64
	for i, r := range left {
		if i > 0 {
			turns += turned(run[i].At.Sub(run[i-1].At), run[i].Speed, circumference)
		}
		sin, cos := math.Sincos(2 * math.Pi * turns)
		re += r * cos
		im += r * sin
	}
	n := float64(len(left))
	squares := dot(left, left) / (n - 2)
	if !(squares > 0) {
		return 0, 0
	}
	return (re*re + im*im) / (n * squares), 2 * math.Hypot(re, im) / n
}
