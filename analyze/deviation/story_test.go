package deviation

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// exact is mean and covariance of offset, level and drift at the end of some
// readings, solved at once as the regression it is: with x the offset, the first
// level, the drift and one step of the wander before each reading,
//
//	(X'X/noise + P⁻¹)⁻¹, by gonum's matrices.
func exact(t *testing.T, p *Pool, offsetVar float64, clocks, values, noise []float64) (mean [3]float64, cov [6]float64) {
	t.Helper()
	n := len(values)
	prior := mat.NewSymDense(3+n, nil)
	prior.SetSym(0, 0, offsetVar)
	prior.SetSym(1, 1, p.LevelSD*p.LevelSD)
	prior.SetSym(1, 2, p.Corr*p.LevelSD*p.DriftSD)
	prior.SetSym(2, 2, p.DriftSD*p.DriftSD)
	last := 0.0
	for i, c := range clocks {
		prior.SetSym(3+i, 3+i, p.Wander*p.Wander*(c-last))
		last = c
	}
	rows, y := mat.NewDense(n, 3+n, nil), mat.NewVecDense(n, values)
	for i, c := range clocks {
		rows.Set(i, 0, 1)
		rows.Set(i, 1, 1)
		rows.Set(i, 2, c)
		for j := range i + 1 {
			rows.Set(i, 3+j, 1)
		}
	}
	// x = P X'(X P X' + R)⁻¹ y, so that a wander of 0 needs no inverse.
	var across, spread mat.Dense
	across.Mul(prior, rows.T())
	spread.Mul(rows, &across)
	for i, v := range noise {
		spread.Set(i, i, spread.At(i, i)+v)
	}
	var gain mat.Dense
	if err := gain.Solve(spread.T(), across.T()); err != nil {
		t.Fatal(err)
	}
	var x mat.VecDense
	x.MulVec(gain.T(), y)
	var taken, left mat.Dense
	taken.Mul(gain.T(), across.T())
	left.Sub(prior, &taken)
	// The level at the end is the first one, the drift and all steps together.
	end := mat.NewDense(3, 3+n, nil)
	end.Set(0, 0, 1)
	end.Set(1, 1, 1)
	end.Set(1, 2, last)
	end.Set(2, 2, 1)
	for j := range n {
		end.Set(1, 3+j, 1)
	}
	var at mat.VecDense
	at.MulVec(end, &x)
	var half, whole mat.Dense
	half.Mul(end, &left)
	whole.Mul(&half, end.T())
	return [3]float64{at.AtVec(0), at.AtVec(1), at.AtVec(2)},
		[6]float64{gg: whole.At(0, 0), gu: whole.At(0, 1), gv: whole.At(0, 2), uu: whole.At(1, 1), uv: whole.At(1, 2), vv: whole.At(2, 2)}
}

// One account is the normal posterior, reading by reading.
func TestStoryIsTheExactPosterior(t *testing.T) {
	for name, p := range map[string]Pool{
		"straight": {LevelSD: 0.3, DriftSD: 0.02, Corr: 0.9},
		"wander":   {LevelSD: 0.4, DriftSD: 0.05, Corr: -0.5, Wander: 0.2},
	} {
		clocks := []float64{0.1, 0.5, 0.5, 2, 7, 7.5, 20, 60}
		values := []float64{0.3, 0.1, 0.5, 0.4, 0.9, 0.6, 1.3, 2.1}
		noise := []float64{0.1, 0.07, 0.1, 0.2, 0.07, 0.07, 0.1, 0.06}
		s := story{weight: 1}
		s.cov[gg] = 0.04
		s.fit(&p, 0)
		for i, c := range clocks {
			s.move(c-s.clock, p.Wander)
			s.learn(values[i]-s.mean(), s.variance()+noise[i])
		}
		mean, cov := exact(t, &p, 0.04, clocks, values, noise)
		for i, got := range [3]float64{s.offset, s.level, s.drift} {
			close(t, name+": offset, level or drift", got, mean[i], 1e-8)
		}
		for i, got := range s.cov {
			if math.Abs(got-cov[i]) > 1e-8*(1+math.Abs(cov[i])) {
				t.Errorf("%s: covariance %d is %v, want %v", name, i, got, cov[i])
			}
		}
	}
}

// A new blade leaves what is known of the saw and nothing of the blade.
func TestStoryFit(t *testing.T) {
	p := Pool{LevelSD: 0.3, DriftSD: 0.02, Corr: 0.5}
	s := story{weight: 0.5, offset: 0.4, level: 1, drift: 2, clock: 3, cov: [6]float64{1, 0.1, 0.2, 3, 0.3, 4}, saw: &Event{}, blade: &Event{}, fresh: &Event{}}
	saw := s.saw
	s.fit(&p, 120)
	want := story{weight: 0.5, offset: 0.4, from: 120, cov: [6]float64{gg: 1, uu: 0.09, uv: 0.003, vv: 0.0004}, saw: saw}
	for i := range s.cov {
		if math.Abs(s.cov[i]-want.cov[i]) > 1e-15 {
			t.Errorf("covariance %d is %v, want %v", i, s.cov[i], want.cov[i])
		}
	}
	want.cov = s.cov
	if s != want {
		t.Errorf("after a new blade the account is %+v, want %+v", s, want)
	}
}

// Merged accounts have the mean and the variance of the two together, by the
// moments of a mixture; one without weight changes nothing.
func TestStoryMerge(t *testing.T) {
	a := story{weight: 0.3, offset: 1, level: 0, drift: 2, cov: [6]float64{gg: 0.5, gu: 0.1, uu: 1, vv: 2}}
	b := story{weight: 0.1, offset: 3, level: -2, drift: 2, cov: [6]float64{gg: 0.1, gu: 0, uu: 2, vv: 1}}
	m := a
	m.merge(b)
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"weight", m.weight, 0.4}, {"offset", m.offset, 1.5}, {"level", m.level, -0.5}, {"drift", m.drift, 2},
		{"variance of the offset", m.cov[gg], 0.75*0.5 + 0.25*0.1 + 0.75*0.25*4},
		{"covariance", m.cov[gu], 0.75*0.1 - 0.75*0.25*4},
		{"variance of the level", m.cov[uu], 0.75*1 + 0.25*2 + 0.75*0.25*4},
		{"variance of the drift", m.cov[vv], 1.75},
	} {
		close(t, c.what, c.got, c.want, 1e-12)
	}
	m = a
	m.merge(story{offset: 99})
	if m != a {
		t.Errorf("with one of no weight it is %+v, want %+v", m, a)
	}
	none := story{}
	if none.merge(story{}); none != (story{}) {
		t.Errorf("two of no weight make %+v", none)
	}
}

// The sort of an account is that of its last event.
func TestStorySort(t *testing.T) {
	for _, c := range []struct {
		s    story
		want int
	}{
		{story{}, ofNothing},
		{story{saw: &Event{Cut: 3}}, ofSaw},
		{story{saw: &Event{Cut: 3}, blade: &Event{Cut: 9}}, ofBlade},
		{story{saw: &Event{Cut: 30}, fresh: &Event{Cut: 9}}, ofSaw},
		{story{saw: &Event{Cut: 0}, fresh: &Event{Cut: 0}}, ofFresh},
	} {
		if got, _ := c.s.sort(); got != c.want {
			t.Errorf("%+v is of sort %d, want %d", c.s, got, c.want)
		}
	}
}

// No reading makes a variance negative or grow.
func TestStoryProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Pool{
			LevelSD: rapid.Float64Range(1e-3, 10).Draw(t, "level"), DriftSD: rapid.Float64Range(1e-3, 10).Draw(t, "drift"),
			Corr: rapid.Float64Range(-0.95, 0.95).Draw(t, "corr"), Wander: rapid.Float64Range(0, 1).Draw(t, "wander"),
		}
		s := story{weight: 1}
		s.cov[gg] = 0.01
		s.fit(&p, 0)
		for range rapid.IntRange(1, 60).Draw(t, "readings") {
			s.move(rapid.Float64Range(0, 5).Draw(t, "clock"), p.Wander)
			before := s.cov
			s.learn(rapid.Float64Range(-20, 20).Draw(t, "miss"), s.variance()+rapid.Float64Range(1e-4, 4).Draw(t, "noise"))
			for _, i := range []int{gg, uu, vv} {
				if s.cov[i] < -1e-9*before[i] || s.cov[i] > before[i]*(1+1e-12) {
					t.Fatalf("variance %d was %v and is %v", i, before[i], s.cov[i])
				}
			}
			if s.variance() < -1e-9 {
				t.Fatalf("the level's variance is %v", s.variance())
			}
		}
	})
}
