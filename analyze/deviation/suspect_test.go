package deviation

import (
	"math"
	"testing"
)

// By hand, two accounts of a saw: it stepped, to 1 ± 0.1, with a chance of 0.7, or
// stands at 0 ± 0.1.
func TestSawOffByHand(t *testing.T) {
	step, blade := &Event{Cut: 40, Area: 400}, &Event{Cut: 30}
	f := &Follower{stories: []story{
		{weight: 0.7, offset: 1, cov: [6]float64{gg: 0.01}, saw: step},
		{weight: 0.2, offset: 0, cov: [6]float64{gg: 0.01}, blade: blade},
		{weight: 0.1, offset: 0, cov: [6]float64{gg: 0.01}},
	}}
	s := f.SawOff(0.5)
	close(t, "chance", s.Chance, 0.7*math.Erfc(-5/math.Sqrt2)/2+0.3*math.Erfc(5/math.Sqrt2)/2, 1e-12)
	close(t, "size", s.Size.Value, 1, 1e-12)
	close(t, "its upper limit", s.Size.High, 1+z95*0.1, 1e-12)
	if s.Since != step {
		t.Errorf("since %+v, want %+v", s.Since, step)
	}
	// To the other side the chances are the same.
	f.stories[0].offset = -1
	if turned := f.SawOff(0.5); math.Abs(turned.Chance-s.Chance) > 1e-12 || turned.Size.Value != -1 {
		t.Errorf("to the other side %+v", turned)
	}
	if b := f.BladeStepped(); b.Chance != 0.2 || b.Since != blade {
		t.Errorf("the blade stepped: %+v", b)
	}
	if u := f.Unlogged(); u != (Suspicion{}) {
		t.Errorf("a change nobody logged: %+v, want none", u)
	}
}

// Of several accounts of one sort the chances add up, and the weightiest dates it.
func TestLikeliestEvent(t *testing.T) {
	early, late := &Event{Cut: 1}, &Event{Cut: 2}
	f := &Follower{stories: []story{{weight: 0.3, fresh: early}, {weight: 0.5, fresh: late}, {weight: 0.2}}}
	if u := f.Unlogged(); u.Chance != 0.8 || u.Since != late {
		t.Errorf("%+v, want 0.8 since cut 2", u)
	}
}
