package sim

import "math"

// section is one thing the shop saws, with the truth the message only implies.
type section struct {
	says   any     // what the message carries: a designation or an object, lengths in in
	area   float64 // in², square cut of one bar
	height float64 // in, as it lies
	grade  string  // the grade it is bought in, "" when the material decides
	bundle bool    // small enough to be cut several at a time
}

// shape is the section object of the message contract.
type shape struct {
	Shape    string  `json:"shape"`
	Diameter float64 `json:"diameter,omitempty"`
	Width    float64 `json:"width,omitempty"`
	Height   float64 `json:"height,omitempty"`
	Wall     float64 `json:"wall,omitempty"`
	Flats    float64 `json:"flats,omitempty"`
}

// inMM is the same shape with its lengths in mm, exact to a micrometre.
func (s shape) inMM() shape {
	for _, v := range []*float64{&s.Diameter, &s.Width, &s.Height, &s.Wall, &s.Flats} {
		*v = round(*v*25.4, 3)
	}
	return s
}

// perFoot is the area of a steel section from its published weight: lb/ft over
// 3.4, the basis of the structural shape tables (from memory).
func perFoot(lb float64) float64 { return lb / 3.4 }

// rectTube is the area on the nominal wall, with outer corner radius 2t and
// inner radius t: 2t(B+H-2t) - (4-π)(Ro²-Ri²).
func rectTube(b, h, t float64) float64 {
	return 2*t*(b+h-2*t) - (4-math.Pi)*(4*t*t-t*t)
}

// disc is the area of a round.
func disc(d float64) float64 { return math.Pi / 4 * d * d }

// Structural shapes: depth and weight from the published tables (from memory).
var shapes = []section{
	{says: "W6x25", area: perFoot(25), height: 6.38, grade: "A992"},
	{says: "W8x31", area: perFoot(31), height: 8.00, grade: "A992"},
	{says: "W10x49", area: perFoot(49), height: 9.98, grade: "A992"},
	{says: "W12x26", area: perFoot(26), height: 12.2, grade: "A992"},
	{says: "W16x31", area: perFoot(31), height: 15.9, grade: "A992"},
	{says: "W18x50", area: perFoot(50), height: 18.0, grade: "A992"},
	{says: "W21x44", area: perFoot(44), height: 20.7, grade: "A992"},
	{says: "C8x11.5", area: perFoot(11.5), height: 8, grade: "A36"},
	{says: "C12x20.7", area: perFoot(20.7), height: 12, grade: "A36"},
	{says: "L4x4x1/2", area: .5 * (4 + 4 - .5), height: 4, grade: "A36"},
	{says: "L6x4x1/2", area: .5 * (6 + 4 - .5), height: 4, grade: "A36"}, // on its long leg, as a designation that tells no lay is read
}

// Hollow sections; saws meet the nominal wall, not the design wall of the tables.
var hollow = []section{
	{says: "HSS4x4x1/4", area: rectTube(4, 4, .25), height: 4},
	{says: "HSS8x8x3/8", area: rectTube(8, 8, .375), height: 8},
	{says: "HSS6x6x1/2", area: rectTube(6, 6, .5), height: 6},
	{says: shape{Shape: "rect-tube", Width: 6, Height: 4, Wall: .25}, area: rectTube(6, 4, .25), height: 4},
	{says: "PIPE4STD", area: math.Pi * .237 * (4.5 - .237), height: 4.5},
}

// Bar in carbon and low-alloy steel.
var bar = []section{
	{says: "RD2", area: disc(2), height: 2, bundle: true},
	{says: shape{Shape: "hex", Flats: 2}, area: math.Sqrt(3) / 2 * 4, height: 2},
	{says: "RD3", area: disc(3), height: 3},
	{says: "RD4", area: disc(4), height: 4},
	{says: shape{Shape: "rect", Width: 5, Height: 3}, area: 15, height: 3},
	{says: "RD5", area: disc(5), height: 5},
	{says: "RD6", area: disc(6), height: 6},
}

// Round bar in stainless steel, sent as objects so that a saw can speak mm.
var rounds = []section{
	roundBar(2), roundBar(2.5), roundBar(3), roundBar(4), roundBar(5), roundBar(6),
}

// Round bar in nickel alloy.
var smallRounds = []section{roundBar(2), roundBar(3), roundBar(4)}

func roundBar(d float64) section {
	return section{says: shape{Shape: "round", Diameter: d}, area: disc(d), height: d}
}

// material is how a metal treats the blade, with the sections it is cut in.
type material struct {
	share    float64  // of the saw's batches
	grades   []string // one is drawn for each batch, unless the section says
	rate     float64  // in²/min with a sharp blade
	severity float64  // wear per in², 1018 = 1
	speed    float64  // band speed, ft/min
	sections []section
}

// model is one saw of the demo shop.
type model struct {
	name      string
	bladeType string
	band      float64 // ft, developed length of the loop
	life      float64 // reference life, weighted in²
	fatigue   float64 // Weibull scale in bends, shape 3
	mix       []material
	mitred    float64   // share of batches cut at an angle
	angles    []float64 // degrees from square
	handling  float64   // min per cut, mean
	setup     float64   // min per batch, median
	batch     float64   // pieces of a batch beyond the first, mean
	serial    bool      // its cuts name the blade
	pressure  bool      // its cuts carry the feed pressure
}

var allAngles = []float64{15, 22.5, 30, 45, 60}

// models is the shop. Severities, rates and speeds are ranges of common
// practice narrowed to one number; the rest is invented.
var models = []model{
	{
		name: "s1", bladeType: "1-1/4 x 0.042 3/4 bimetal", band: 14.5, life: 9000, fatigue: 90000,
		mix: structural(.65), mitred: .45, angles: allAngles,
		handling: 1.1, setup: 5.5, batch: 6, serial: true,
	},
	{
		name: "s2", bladeType: "1-1/4 x 0.042 3/4 bimetal", band: 15.5, life: 9000, fatigue: 90000,
		mix: structural(.60), mitred: .45, angles: allAngles,
		handling: 1.1, setup: 5.5, batch: 6, serial: true,
	},
	{
		name: "s3", bladeType: "1-1/2 x 0.050 2/3 bimetal", band: 18.5, life: 15000, fatigue: 110000,
		mix:      []material{carbon(.5), {.3, []string{"4140"}, 6.5, 1.25, 240, bar}, {.2, []string{"4140PH"}, 4.5, 2.0, 180, bar}},
		handling: .7, setup: 6, batch: 7, serial: true, pressure: true,
	},
	{
		name: "s4", bladeType: "1-1/2 x 0.050 2/3 cobalt bimetal", band: 18.5, life: 15000, fatigue: 90000,
		mix: []material{
			{.7, []string{"304", "316"}, 2.6, 3.2, 115, rounds},
			{.2, []string{"17-4"}, 2.2, 3.8, 100, rounds},
			{.1, []string{"718"}, .9, 11, 60, smallRounds},
		},
		handling: .7, setup: 7, batch: 6, serial: true,
	},
	{
		name: "s5", bladeType: "1 x 0.035 4/6 bimetal", band: 11.5, life: 6000, fatigue: 80000,
		mix: []material{carbon(.6), {.2, []string{"4140"}, 6.5, 1.25, 240, bar}, tube(.2)},
		// Its frame swivels to 45 degrees only.
		mitred: .25, angles: allAngles[:4],
		handling: .7, setup: 7, batch: 6,
	},
}

// structural is a mix of rolled shapes and hollow sections.
func structural(rolled float64) []material {
	return []material{{rolled, nil, 6.0, 1.3, 270, shapes}, tube(1 - rolled)}
}

func tube(share float64) material {
	return material{share, []string{"A500"}, 5.0, 1.5, 270, hollow}
}

func carbon(share float64) material {
	return material{share, []string{"1018", "1045"}, 8.0, 1.0, 260, bar}
}

// round rounds to so many decimals, so that what is told and what is true are
// the same number.
func round(v float64, decimals int) float64 {
	p := math.Pow10(decimals)
	return math.Round(v*p) / p
}
