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
	cuts    int
	at      time.Time
	blades  int
}

const modelLimit = 2.4

var shapeHeights = []float64{4, 6.38, 8, 8, 9.98, 12, 12.2, 15.9, 18, 20.7}

func newModel(seed uint64) *model {
	return &model{random: rand.New(rand.NewPCG(seed, 7)), life: 9000, heights: shapeHeights, pulled: true, guide: func(int) float64 { return 0 }, at: time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)}
}

// blade makes all cuts of one blade.
func (m *model) blade() Fitting {
	r := m.random
	m.blades++
	f := Fitting{Blade: string(rune('A' + m.blades%26)), Type: "bimetal", Start: m.at}
	side := math.Exp(0.25 * r.NormFloat64())
	if r.Float64() < 0.5 {
		side = -side
	}
	life := m.life * math.Exp(0.18*r.NormFloat64())
	end := (0.75 + 0.4*r.Float64()) * life
	if !m.pulled {
		end = math.Inf(1)
	}
	area, trips := 0.0, []bool{}
	for area < end {
		height := m.heights[r.IntN(len(m.heights))]
		face := 3.75 + 11*r.Float64()
		area += 1.35 * face
		used := area / life
		off := side*(0.3+1.5*used*used) + m.guide(m.cuts) + 0.25*r.NormFloat64()
		read := off + r.NormFloat64()/height
		c := Cut{From: area - 1.35*face, Area: area, Height: height, Face: face, Limit: modelLimit, Grade: "A992", Tripped: math.Abs(off) > modelLimit}
		read = math.Copysign(math.Min(math.Abs(read), 0.98*modelLimit), read)
		if c.Tripped {
			read = math.Copysign(1.02*modelLimit, off)
		}
		rate := 6 / (1 + 0.35*used*used) * math.Exp(0.05*r.NormFloat64())
		if area < 100 {
			rate /= 2
		}
		c.Deviation, c.Seconds = read, 60*face/rate
		m.at = m.at.Add(time.Duration((c.Seconds + 120) * float64(time.Second)))
		c.At = m.at
		f.Cuts = append(f.Cuts, c)
		m.cuts++
		trips = append(trips, c.Tripped)
		if c.Tripped && !m.pulled {
			break
		}
		n := 0
		for _, t := range trips[max(0, len(trips)-10):] {
			if t {
				n++
			}
		}
		if n >= 3 {
			break
		}
	}
	m.at = m.at.Add(15 * time.Minute)
	return f
}

func (m *model) past(n int) (list [][]Cut) {
	for range n {
		list = append(list, m.blade().Cuts)
	}
	return list
}
