package deviation

import (
	"math"
	"math/rand/v2"
	"time"
)

// model is a saw of the demo shop as the project's domain reference, section
// 10.3, generates it, in mil per inch of height: a blade leads to a side by
// 0.3 + 1.5·used², each cut wanders by 0.25, the probe errs by 1 mil.
type model struct {
	random  *rand.Rand
	life    float64 // weighted in² of a usual blade
	heights []float64
	guide   func(cut int) float64 // what the saw stands off
	pulled  bool                  // blades come off as planned; else at the first trip
	wear    float64               // of how far a blade goes off with wear, over the usual
	fault   func(*Cut, int) fault // of a cut; nil: none
	grades  []string
	mitres  bool // a tenth of the cuts at either angle of 45 degrees
	cuts    int
	at      time.Time
	blades  int
}

// fault is what is wrong with one cut.
type fault struct {
	off, outward float64 // to a side, and to that of the blade
	lead, rate   float64 // how far the blade leads and how fast it cuts, over the usual; 0: 1
	fresh        bool    // another blade is hung before it, and nobody says so
}

const modelLimit = 2.4

var shapeHeights = []float64{4, 6.38, 8, 8, 9.98, 12, 12.2, 15.9, 18, 20.7}

func newModel(seed uint64) *model {
	return &model{
		random: rand.New(rand.NewPCG(seed, 7)), life: 9000, heights: shapeHeights, pulled: true, wear: 1,
		guide: func(int) float64 { return 0 }, grades: []string{"A992"}, at: time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC),
	}
}

// fresh draws the side a blade leads to and its life.
func (m *model) fresh() (side, life float64) {
	side = math.Exp(0.25 * m.random.NormFloat64())
	if m.random.Float64() < 0.5 {
		side = -side
	}
	return side, m.life * math.Exp(0.18*m.random.NormFloat64())
}

// next draws what the next cut is of.
func (m *model) next() Cut {
	r := m.random
	c := Cut{Height: m.heights[r.IntN(len(m.heights))], Face: 3.75 + 11*r.Float64(), Grade: m.grades[0]}
	if len(m.grades) > 1 {
		c.Grade = m.grades[r.IntN(len(m.grades))]
	}
	if m.mitres {
		c.Mitre = []float64{-45, 45, 0, 0, 0, 0, 0, 0, 0, 0}[r.IntN(10)]
	}
	return c
}

// blade makes all cuts of one blade.
func (m *model) blade() Fitting {
	r := m.random
	m.blades++
	f := Fitting{Blade: string(rune('A' + m.blades%26)), Type: "bimetal", Start: m.at}
	side, life := m.fresh()
	end := (0.75 + 0.4*r.Float64()) * life
	if !m.pulled {
		end = math.Inf(1)
	}
	area, from := 0.0, 0.0
	var trips []bool
	for area < end {
		c := m.next()
		bad := fault{}
		if m.fault != nil {
			bad = m.fault(&c, m.cuts)
		}
		if bad.fresh {
			from, end = area, end+area
			side, life = m.fresh()
		}
		c.From = area
		area += 1.35 * c.Face
		c.Area = area
		m.cut(&c, bad, side, area-from, life)
		f.Cuts = append(f.Cuts, c)
		m.cuts++
		trips = append(trips, c.Tripped)
		if c.Tripped && !m.pulled || count(trips[max(0, len(trips)-10):]) >= 3 {
			break
		}
	}
	m.at = m.at.Add(15 * time.Minute)
	return f
}

// cut makes the cut of a blade that has cut area in².
func (m *model) cut(c *Cut, bad fault, side, area, life float64) {
	r, used := m.random, area/life
	off := side*(0.3+1.5*m.wear*used*used)*over(bad.lead) + bad.outward*math.Copysign(1, side)
	off += m.guide(m.cuts) + bad.off + 0.25*r.NormFloat64()
	read := off + r.NormFloat64()/c.Height
	c.Tripped = math.Abs(off) > modelLimit
	c.Deviation = math.Copysign(math.Min(math.Abs(read), 0.98*modelLimit), read)
	if c.Tripped {
		c.Deviation = math.Copysign(1.02*modelLimit, off)
	}
	rate := 6 * over(bad.rate) / (1 + 0.35*used*used) * math.Exp(0.05*r.NormFloat64())
	if area < 100 {
		rate /= 2
	}
	c.Seconds = 60 * c.Face / rate
	m.at = m.at.Add(time.Duration((c.Seconds + 120) * float64(time.Second)))
	c.At = m.at
}

// over is a factor that is 1 where nothing is said.
func over(x float64) float64 {
	if x == 0 {
		return 1
	}
	return x
}

func count(list []bool) (n int) {
	for _, x := range list {
		if x {
			n++
		}
	}
	return n
}

func (m *model) past(n int) (list [][]Cut) {
	for range n {
		list = append(list, m.blade().Cuts)
	}
	return list
}

// fittings are the next blades of the saw.
func (m *model) fittings(n int) (list []Fitting) {
	for range n {
		list = append(list, m.blade())
	}
	return list
}
