package deviation

// Course follows one saw from blade to blade and tells at any time what Study would
// tell of the outlook then, at a small part of its cost: for those who replay a
// history. The saw is followed on from blade to blade and not anew from 24 blades back,
// and what shows on some cuts only, changes of blade that nobody logged, a stuck sensor
// and blades of other saws are left out.
type Course struct {
	past   map[string][][]Cut // of blades that came off, by type, the newest last
	kind   string             // of the blade that is on
	cuts   []Cut              // its own
	saw    *Follower          // nil: nothing is known of such blades
	fresh  *Follower          // how it stood when the blade was hung
	powers []power            // of its wear clock that may be right; none until somebody asks
}

// power is a blade followed by one power of the wear clock.
type power struct {
	weight float64
	follow *Follower
	seen   int // cuts
}

// Fit hangs another blade, of a type, that has cut area in² elsewhere before. Its habits
// are learned from the blades of the type before it; limit is the trip limit over the
// height, NaN where it is not known.
func (c *Course) Fit(kind string, area, limit float64) {
	if c.past == nil {
		c.past = map[string][][]Cut{}
	}
	if len(c.cuts) > 0 {
		past := append(c.past[c.kind], c.cuts)
		c.past[c.kind] = past[max(0, len(past)-poolFrom):]
	}
	c.kind, c.cuts, c.fresh, c.powers = kind, nil, nil, nil
	pool, ok := Learn(c.past[kind], limit)
	if !ok || pool.Blades == 0 {
		c.saw = nil
		return
	}
	if c.saw == nil {
		f, err := NewFollower(pool, Standard{})
		if err != nil {
			return
		}
		c.saw = f
	}
	c.saw.pool = pool
	c.saw.Fit(area)
	c.saw.sameBlade = true // without times a change that nobody logged cannot be told from a step
	c.fresh = c.saw.clone()
}

// Add takes the next cut of the blade that is on. It fails on an area that is no number
// or less than the last.
func (c *Course) Add(cut *Cut) error {
	if c.saw != nil {
		if _, err := c.saw.Add(cut); err != nil {
			return err
		}
	}
	c.cuts = append(c.cuts, *cut)
	return nil
}

// Outlook is that to the first trip from here at some limits over the height, as of
// Follower.Until, over all powers of the wear clock that may be right. It is nil where
// no blade of the type was on the saw before, fewer than 3 readings were made, or no
// limit is known.
func (c *Course) Outlook(limits ...float64) *Outlook {
	if c.fresh == nil || c.readings() < minDeviated {
		return nil
	}
	if c.powers == nil {
		pools, weights := c.fresh.pool.Likely()
		for i := range pools {
			c.powers = append(c.powers, power{weights[i], c.fresh.sided(&pools[i]), 0})
		}
	}
	var all []*Outlook
	var weights []float64
	for i := range c.powers {
		p := &c.powers[i]
		for ; p.seen < len(c.cuts); p.seen++ {
			_, _ = p.follow.Add(&c.cuts[p.seen]) // Add has taken it before
		}
		o := p.follow.Until(limits...)
		if o == nil {
			return nil
		}
		all, weights = append(all, o), append(weights, p.weight)
	}
	return mixed(all, weights)
}

// readings counts those of the blade that is on, as far as is asked.
func (c *Course) readings() (n int) {
	for i := range c.cuts {
		if c.cuts[i].known() {
			if n++; n == minDeviated {
				break
			}
		}
	}
	return n
}
