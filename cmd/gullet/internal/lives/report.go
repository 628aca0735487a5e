package lives

import (
	"time"

	"gullet/cmd/gullet/internal/figures"
)

// Report is the answer. Every missing figure is null, and a member beside it
// whose name ends in why says why.
type Report struct {
	MadeAt *time.Time `json:"made_at,omitempty"` // of an answer from the store
	Since  *time.Time `json:"since,omitempty"`   // blades first hung from here on
	Unit   string     `json:"unit"`              // of every area: in2
	// Clock is what lives are counted in: "area" as cut, or "weighted area",
	// in² of the reference class that wear a blade as much.
	Clock      string      `json:"clock"`
	Reference  string      `json:"reference,omitempty"` // class of weight 1
	By         string      `json:"by"`
	Limits     []string    `json:"limits"` // how each kind of 95 % limits was made
	Groups     []Group     `json:"groups"` // all first, then each group by name
	LogRank    *Test       `json:"log_rank"`
	Peto       *Test       `json:"peto"`
	WhyTests   string      `json:"tests_why,omitempty"`
	Pairs      []Pair      `json:"pairs"`
	Shrunk     *Shrunk     `json:"shrunk"`
	WhyShrunk  string      `json:"shrunk_why,omitempty"`
	Weights    []Weight    `json:"weights"` // by maximum likelihood alone
	WhyWeights string      `json:"weights_why,omitempty"`
	Exposure   *Exposure   `json:"exposure"`        // the fit that Weights stand in
	Settled    []Weight    `json:"weights_settled"` // with the configured severity as prior: those in use
	Regression *Regression `json:"regression,omitempty"`
	WhyRegr    string      `json:"regression_why,omitempty"`
	Fitted     []Fitted    `json:"fitted,omitempty"` // what hangs on the saws
	Currency   string      `json:"currency,omitempty"`
	Doubts     []string    `json:"doubts"`
}

// Group is how long the blades of one group last.
type Group struct {
	Group          string       `json:"group"`
	Blades         int          `json:"blades"`
	Ended          int          `json:"ended"`
	Censored       int          `json:"censored"` // pulled early or still running
	Area           float64      `json:"area"`     // in² cut, all blades
	Weighted       *float64     `json:"weighted_area"`
	Longest        float64      `json:"longest"` // life of the blade that cut most; beyond it only the fitted curve speaks
	KM             []Step       `json:"km"`
	NelsonAalen    []Hazard     `json:"nelson_aalen"`
	Tenth          Seen         `json:"tenth"`  // when a tenth had ended, by the Kaplan-Meier curve
	Median         Seen         `json:"median"` // and half
	Weibull        *Weibull     `json:"weibull"`
	WhyWeibull     string       `json:"weibull_why,omitempty"`
	Borrowed       *Weibull     `json:"weibull_borrowed"`
	WhyBorrowed    string       `json:"weibull_borrowed_why,omitempty"`
	ScaleAtLeast   *float64     `json:"scale_at_least,omitempty"` // with no end: one-sided 95 % bound at the borrowed shape
	Lognormal      *Lognormal   `json:"lognormal"`
	WhyLognormal   string       `json:"lognormal_why,omitempty"`
	Exponential    *Exponential `json:"exponential"`
	WhyExponential string       `json:"exponential_why,omitempty"`
	Causes         []Cause      `json:"causes"`
	Cost           *Cost        `json:"cost"`
	WhyCost        string       `json:"cost_why,omitempty"`
}

// Step is one fall of the Kaplan-Meier curve.
type Step struct {
	Area     float64  `json:"area"`
	AtRisk   int      `json:"at_risk"`
	Ended    int      `json:"ended"`
	Survival float64  `json:"survival"`
	StdError *float64 `json:"std_error"` // null where nothing is left, as the limits
	Low      *float64 `json:"low"`
	High     *float64 `json:"high"`
}

// Hazard is one rise of the Nelson-Aalen estimate.
type Hazard struct {
	Area     float64 `json:"area"`
	Hazard   float64 `json:"cumulative_hazard"`
	StdError float64 `json:"std_error"`
}

// Seen is an estimate whose value may not be reached.
type Seen struct {
	Value *float64 `json:"value"`
	Low   *float64 `json:"low"`
	High  *float64 `json:"high"`
	Why   string   `json:"why,omitempty"`
}

// Weibull is a fitted life distribution. Covariance is that of ln shape and ln
// scale.
type Weibull struct {
	Clock      string           `json:"clock"` // what it counts a life in
	Shape      float64          `json:"shape"`
	Scale      float64          `json:"scale"`
	LogShapeSE *float64         `json:"log_shape_se"`
	LogScaleSE *float64         `json:"log_scale_se"`
	Covariance *float64         `json:"covariance"`
	ShapeLow   *float64         `json:"shape_low"`
	ShapeHigh  *float64         `json:"shape_high"`
	LogLik     float64          `json:"loglik"`
	AIC        float64          `json:"aic"`
	B10        figures.Interval `json:"b10"`
	B50        figures.Interval `json:"b50"`
	Mean       *float64         `json:"mean"`
	MeanLow    *float64         `json:"mean_low"`
	MeanHigh   *float64         `json:"mean_high"`
	Blades     int              `json:"blades"`
	Ended      int              `json:"ended"`
	Note       string           `json:"note,omitempty"`
}

// Lognormal is a fitted lognormal life.
type Lognormal struct {
	Mu         float64  `json:"mu"` // of ln in²
	Sigma      float64  `json:"sigma"`
	MuSE       *float64 `json:"mu_se"`
	LogSigmaSE *float64 `json:"log_sigma_se"`
	LogLik     float64  `json:"loglik"`
	AIC        float64  `json:"aic"`
}

// Exponential is a life that ends by chance alone.
type Exponential struct {
	Scale     float64 `json:"scale"`
	ScaleLow  float64 `json:"scale_low"`
	ScaleHigh float64 `json:"scale_high"`
	LogLik    float64 `json:"loglik"`
	AIC       float64 `json:"aic"`
}

// Cause is one way of ending beside the others.
type Cause struct {
	Cause      string      `json:"cause"`
	Ended      int         `json:"ended"`
	Share      float64     `json:"share"` // of the ended
	Incidence  []Incidence `json:"incidence"`
	Weibull    *Weibull    `json:"weibull"` // on the clock that fits better, the other causes censored
	WhyWeibull string      `json:"weibull_why,omitempty"`
	Clocks     []Clock     `json:"clocks,omitempty"` // those tried
	WhyClocks  string      `json:"clocks_why,omitempty"`
}

// Incidence is the share of blades that ended in one way by an area.
type Incidence struct {
	Area     float64  `json:"area"`
	Value    float64  `json:"value"`
	StdError *float64 `json:"std_error"`
	Low      *float64 `json:"low"`
	High     *float64 `json:"high"`
}

// Clock is how well a way of ending goes by one count. The AIC of two clocks
// are of the same blades and per in² of the material cut, so that they compare;
// each kind of blade has its own fit in it.
type Clock struct {
	Clock string  `json:"clock"`
	AIC   float64 `json:"aic"`
}

// Cost is what blades cost for what they cut, in the shop's currency.
type Cost struct {
	PerArea     figures.Interval  `json:"per_in2"`          // price of the blades taken off over in² cut
	PerWeighted *figures.Interval `json:"per_weighted_in2"` // the same over weighted in²
	Off         int               `json:"blades_off"`
}

// Test is a test of whether all groups last equally long.
type Test struct {
	Chi2 float64 `json:"chi2"`
	DF   int     `json:"df"`
	P    float64 `json:"p"`
}

// Pair is the comparison of two groups on the clock, fair where they cut
// different mixes.
type Pair struct {
	A        string            `json:"a"`
	B        string            `json:"b"`
	Ratio    *figures.Interval `json:"life_ratio"` // of A to B
	P        *float64          `json:"p"`          // of no difference
	BladesA  int               `json:"blades_a"`
	BladesB  int               `json:"blades_b"`
	EndedA   int               `json:"ended_a"`
	EndedB   int               `json:"ended_b"`
	Needed   *int              `json:"more_blades_each"` // for an 80 % chance to tell a difference of this size; null where it is told, or no number would do
	Cost     *figures.Interval `json:"cost_ratio"`       // of A to B, per weighted in²
	Sentence string            `json:"sentence"`
}

// Shrunk is the groups' scales drawn toward the pooled fit.
type Shrunk struct {
	Shape  float64          `json:"shape"`
	Scale  float64          `json:"scale"`
	SD     figures.Interval `json:"offset_sd"` // of ln scale between groups
	Groups []ShrunkGroup    `json:"groups"`
}

// ShrunkGroup is one group as it is alone and as it is among the others.
type ShrunkGroup struct {
	Group  string           `json:"group"`
	Blades int              `json:"blades"`
	Ended  int              `json:"ended"`
	Cens   int              `json:"censored"`
	Raw    *float64         `json:"raw_b50"`
	B50    figures.Interval `json:"b50"`
	B10    figures.Interval `json:"b10"`
	Scale  figures.Interval `json:"scale"`
	Offset figures.Interval `json:"offset"` // of ln scale
}

// Weight is how much faster a class of material wears a blade than the
// reference class, per in².
type Weight struct {
	Class      string   `json:"class"`
	LogWeight  *float64 `json:"log_weight"`
	SE         *float64 `json:"se"`
	Weight     *float64 `json:"weight"`
	Low        *float64 `json:"low"`
	High       *float64 `json:"high"`
	Blades     int      `json:"blades"` // that cut it
	Ended      int      `json:"ended"`
	Area       float64  `json:"area"`
	Configured *float64 `json:"configured"` // severity
	Why        string   `json:"why,omitempty"`
}

// Exposure is the Weibull threshold that weighted area runs against in the fit
// of the weights.
type Exposure struct {
	Reference  string   `json:"reference"`
	Shape      float64  `json:"shape"`
	Scale      float64  `json:"scale"`
	LogShapeSE *float64 `json:"log_shape_se"`
	LogScaleSE *float64 `json:"log_scale_se"`
	LogLik     float64  `json:"loglik"`
	Blades     int      `json:"blades"`
	Ended      int      `json:"ended"`
}

// Regression is ln life against covariates.
type Regression struct {
	Coefficients []Coefficient `json:"coefficients"`
	Sigma        float64       `json:"sigma"` // 1/shape
	LogSigmaSE   *float64      `json:"log_sigma_se"`
	LogLik       float64       `json:"loglik"`
	Blades       int           `json:"blades"`
	Ended        int           `json:"ended"`
}

// Coefficient is what one unit of a covariate adds to ln life.
type Coefficient struct {
	Name  string   `json:"name"`
	Value float64  `json:"value"`
	SE    *float64 `json:"se"`
	Low   *float64 `json:"low"`
	High  *float64 `json:"high"`
}

// Fitted is what a blade on a saw is likely to have left.
type Fitted struct {
	Saw       string   `json:"saw"`
	Blade     string   `json:"blade"`
	Type      string   `json:"type"`
	Area      float64  `json:"area"`
	Weighted  float64  `json:"weighted_area"`
	Remaining *Window  `json:"remaining"` // in² of the saw's mix of the last days
	InWeight  *Window  `json:"remaining_weighted"`
	Horizon   *float64 `json:"horizon_weighted"` // weighted in² until it is older than any of its type was seen
	Basis     string   `json:"basis,omitempty"`  // the fit used: of its own type, or with a borrowed shape
	Blades    int      `json:"blades"`           // that fit rests on
	Ended     int      `json:"ended"`            // of those
	Next      *Next    `json:"next,omitempty"`
	Why       string   `json:"why,omitempty"`
}

// Window is when a tenth, half and nine tenths of such blades are done.
type Window struct {
	Q10 float64 `json:"q10"`
	Q50 float64 `json:"q50"`
	Q90 float64 `json:"q90"`
}

// Next is the chance that a blade survives the next so many in² of a class.
type Next struct {
	Area  float64  `json:"area"`
	Class string   `json:"class"`
	Odds  *float64 `json:"survives"`
}
