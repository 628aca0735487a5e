package life

import (
	"errors"
	"fmt"
	"math"
)

// Clocked is the lives of some blades on one clock: weighted area for wear,
// bends of the band for fatigue, or any other measure that grows while the
// blade cuts.
type Clocked struct {
	Name  string
	Lives []Observation // in the clock's unit
	Rates []float64     // clock units per unit of raw area in the cut at the end, parallel to Lives; read only for the ended
}

// ClockFit is how well a Weibull curve on one clock tells when blades end.
type ClockFit struct {
	Name    string
	Weibull Weibull // on the clock's scale
	AIC     float64 // Akaike's criterion per raw area, less is better; NaN with Err
	Behind  float64 // AIC less that of the best clock; under 2 the two cannot be told apart; NaN with Err
	Err     error   // why no curve fits on this clock
}

// BestClock fits a Weibull curve on each clock and returns the index of the one
// with the least AIC, and all fits in the order of the clocks. Give it the
// blades with the ends by one cause (OfCause): wear and fatigue each have their
// own clock.
//
// Densities on different clocks are of different units. They are compared as
// densities of raw area, by the chain rule: the log density of each end is taken
// with + ln(rate), and
//
//	AIC = 4 - 2·(LogLik + Σ ln rate),   rate = d clock/d area at the end.
//
// So a clock's own unit does not matter, and clocks that run in step come out
// equal.
//
// A clock that no curve fits is passed over, with its Err. It fails where none
// is left, without a clock, where the clocks are not about the same blades (as
// many, and the same ones ended), and where a rate at an end is not a number
// above 0.
//
// Source: Akaike 1974, IEEE Transactions on Automatic Control 19:716; clocks of
// use after Oakes 1995 and Duchesne and Lawless 2000, both in Lifetime Data
// Analysis [from memory].
func BestClock(clocks []Clocked) (best int, fits []ClockFit, err error) {
	if err := sameBlades(clocks); err != nil {
		return -1, nil, fmt.Errorf("clocks: %w", err)
	}
	best = -1
	for i, c := range clocks {
		fits = append(fits, c.fit())
		if fits[i].Err == nil && (best < 0 || fits[i].AIC < fits[best].AIC) {
			best = i
		}
	}
	if best < 0 {
		return -1, fits, fmt.Errorf("clocks: %s: %w", fits[0].Name, fits[0].Err)
	}
	for i := range fits {
		fits[i].Behind = fits[i].AIC - fits[best].AIC
	}
	return best, fits, nil
}

func (c Clocked) fit() ClockFit {
	w, err := FitWeibull(c.Lives)
	if err != nil {
		return ClockFit{Name: c.Name, AIC: math.NaN(), Err: err}
	}
	logLik := w.LogLik
	for i, o := range c.Lives {
		if o.Ended {
			logLik += math.Log(c.Rates[i])
		}
	}
	return ClockFit{Name: c.Name, Weibull: w, AIC: 4 - 2*logLik}
}

// sameBlades checks that the clocks are about the same blades, with rates.
func sameBlades(clocks []Clocked) error {
	if len(clocks) == 0 {
		return errors.New("none to choose from")
	}
	first := clocks[0]
	for _, c := range clocks {
		switch {
		case len(c.Lives) != len(first.Lives):
			return fmt.Errorf("%s has %d lives, %s %d: want the same blades", c.Name, len(c.Lives), first.Name, len(first.Lives))
		case len(c.Rates) != len(c.Lives):
			return fmt.Errorf("%s has %d rates for %d lives", c.Name, len(c.Rates), len(c.Lives))
		}
		for i, o := range c.Lives {
			if o.Ended != first.Lives[i].Ended {
				return fmt.Errorf("%s and %s do not agree on whether blade %d has ended", c.Name, first.Name, i+1)
			}
			if rate := c.Rates[i]; o.Ended && !(rate > 0 && !math.IsInf(rate, 1)) {
				return fmt.Errorf("%s: rate %v at the end of blade %d: want a number above 0", c.Name, rate, i+1)
			}
		}
	}
	return nil
}
