package ingest

import (
	_ "embed"
	"fmt"
	"time"

	"gullet/analyze"
)

// ContractVersion names the message contract. New optional members do not
// change it, since members nobody knows are kept; a changed meaning does.
const ContractVersion = "1"

// Messages is the contract as people read it. The examples in it are tests.
//
//go:embed messages.md
var Messages string

// Options are the shop's choices in reading messages. A zero number stands for
// its default.
type Options struct {
	MaxPayload int                   // bytes, default 256 KiB; a longer message is rejected and keeps its head
	Oldest     time.Duration         // how far `at` may lie before receipt, default 360 days: a clock a year off is refused
	Ahead      time.Duration         // how far `at` may lie after receipt, default 24 h
	FromAxis   func(saw string) bool // whether this saw counts its mitre from the bar's axis (90 = square); nil: none does
}

const (
	defaultMaxPayload = 256 << 10
	defaultOldest     = 360 * 24 * time.Hour
	defaultAhead      = 24 * time.Hour

	headSize = 1 << 10 // bytes kept of a message that is too long

	maxSaw    = 64  // characters in a saw's own name
	maxSite   = 128 // characters in what stands before it
	maxID     = 64
	maxSerial = 64
	maxText   = 256
	maxSeq    = 1 << 53 // every integer up to here survives a sender that counts in doubles
	maxDepth  = 10      // levels of nesting inside one member
	maxMitre  = 85      // degrees from square; cos 85° makes 11.5 faces of one
	onAxis    = 90      // what a saw that counts from the bar's axis calls a square cut

	// maxDisagreement is how far a sent area may be from that of the sent
	// section, whose own area then counts. Published tables give structural tube
	// 6-7 % less than the saw meets, since they use 0.93 of the nominal wall
	// (from memory: AISC shape tables), and mill tolerance is 2.5 %; a bar left
	// out or a wrong unit is far outside.
	maxDisagreement = 0.10
)

// member is a member of a payload that the contract names.
type member uint8

const (
	memID member = iota
	memSeq
	memAt
	memUnits
	memSeconds
	memSection
	memArea
	memCount
	memMitre
	memGrade
	memBandSpeed
	memFeed
	memPressure
	memDeviation
	memLimit
	memBlade
	memJob
	memPiece
	memPurpose
	memFrom
	memDone
	memWhere
	memAction
	memType
	memReason
	memState
	memCause
	memOnline
	memberCount
)

var memberNames = [memberCount]string{
	memID: "id", memSeq: "seq", memAt: "at", memUnits: "units",
	memSeconds: "seconds", memSection: "section", memArea: "area", memCount: "count",
	memMitre: "mitre", memGrade: "grade", memBandSpeed: "band_speed", memFeed: "feed",
	memPressure: "pressure", memDeviation: "deviation", memLimit: "limit", memBlade: "blade",
	memJob: "job", memPiece: "piece", memPurpose: "purpose", memFrom: "from",
	memDone: "done", memWhere: "where", memAction: "action", memType: "type",
	memReason: "reason", memState: "state", memCause: "cause", memOnline: "online",
}

func (m member) String() string { return memberNames[m] }

// body is what one kind of message may and must carry, besides id, seq, at and
// units.
type body struct {
	required []member
	sized    bool              // section or area is required
	known    map[string]member // every member of the kind; others are kept aside unread
}

var bodies = func() map[analyze.Kind]body {
	common := []member{memID, memSeq, memAt, memUnits}
	cut := []member{
		memSeconds, memSection, memArea, memCount, memMitre, memGrade, memBandSpeed, memFeed,
		memPressure, memDeviation, memBlade, memJob, memPiece, memPurpose, memFrom,
	}
	kind := func(required []member, sized bool, lists ...[]member) body {
		b := body{required: required, sized: sized, known: map[string]member{}}
		for _, list := range append(lists, common) {
			for _, m := range list {
				b.known[m.String()] = m
			}
		}
		return b
	}
	return map[analyze.Kind]body{
		analyze.KindCut:   kind([]member{memSeconds}, true, cut),
		analyze.KindTrip:  kind([]member{memSeconds, memDeviation, memLimit}, true, cut, []member{memLimit, memDone}),
		analyze.KindBreak: kind(nil, false, cut, []member{memWhere, memDone}),
		analyze.KindBlade: kind([]member{memAction, memBlade}, false, []member{memAction, memBlade, memType, memReason}),
		analyze.KindState: kind([]member{memState}, false, []member{memState, memCause}),
		analyze.KindAlive: kind([]member{memOnline}, false, []member{memOnline}),
	}
}()

// The words a member may hold.
var (
	unitWords    = []string{"in", "mm"}
	purposeWords = []analyze.Purpose{analyze.PurposePart, analyze.PurposeTrim, analyze.PurposeTrial}
	placeWords   = []analyze.Place{analyze.PlaceWeld, analyze.PlaceBody, analyze.PlaceUnknown}
	actionWords  = []analyze.BladeAction{analyze.ActionFit, analyze.ActionRemove}
	reasonWords  = analyze.EndReasons()
	stateWords   = analyze.States()
	causeWords   = analyze.Causes()
)

// quantity is what a number measures, and so how `units` changes it.
type quantity uint8

const (
	pure    quantity = iota // the same in either system
	lengths                 // in or mm
	speeds                  // ft/min or m/min
	feeds                   // in/min or mm/min
	areas                   // in² or mm²
	onScale                 // degrees on a saw's scale that counts from the bar's axis
)

// metric says how much of the metric unit makes one of Gullet's own. All are
// exact: the inch is 25.4 mm by the international agreement of 1959.
var metric = [...]float64{pure: 1, lengths: 25.4, speeds: 0.3048, feeds: 25.4, areas: 25.4 * 25.4, onScale: 1}

var unitNames = [...][2]string{
	pure: {"", ""}, lengths: {" in", " mm"}, speeds: {" ft/min", " m/min"},
	feeds: {" in/min", " mm/min"}, areas: {" in²", " mm²"},
	onScale: {" from the bar's axis (90 = square)", " from the bar's axis (90 = square)"},
}

// limit is what a number may be, in Gullet's own units. The bounds are far
// outside anything a saw does; they catch a wrong unit, a stuck sensor and a
// slipped decimal point, and do not judge the cut.
type limit struct {
	of       quantity
	low      float64
	high     float64
	lowOpen  bool // low itself is not allowed
	highOpen bool // high itself is not allowed
}

var limits = [memberCount]limit{
	memSeconds:   {pure, 0, 30 * 60 * 60, true, true},
	memArea:      {areas, 0, 20_000, true, false},
	memCount:     {pure, 1, 1000, false, false},
	memBandSpeed: {speeds, 0, 10_000, true, false},
	memFeed:      {feeds, 0, 500, true, false},
	memPressure:  {pure, 0, 100_000, false, false},
	memDeviation: {lengths, -1, 1, false, false},
	memLimit:     {lengths, 0, 1, true, false},
	memFrom:      {pure, 0, 1, false, true},
	memDone:      {pure, 0, 1, false, false},
	memSeq:       {pure, 0, maxSeq, false, false},
	memMitre:     {pure, -maxMitre, maxMitre, true, true},
}

// holds reports whether v, in units of which scale make one of Gullet's own,
// is allowed. NaN never is.
func (l limit) holds(v, scale float64) bool {
	low, high := l.low*scale, l.high*scale
	return v >= low && v <= high && !(l.lowOpen && v == low) && !(l.highOpen && v == high)
}

// allowed says in words what the limit allows.
func (l limit) allowed(scale float64) string {
	low, high := "at least", "at most"
	if l.lowOpen {
		low = "more than"
	}
	if l.highOpen {
		high = "less than"
	}
	return fmt.Sprintf("%s %s and %s %s", low, plainNumber(l.low*scale), high, plainNumber(l.high*scale))
}
