package store_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/store"
)

func stocktake(t testing.TB, s *store.Store, action store.StockAction, kind string, n, at int) int64 {
	t.Helper()
	id, err := s.Stocktake(t.Context(), store.StockRecord{
		Action: action, Type: kind, N: n, At: minute(at), Who: "Storekeeper", Why: "seen", Recorded: minute(10_000),
	})
	if err != nil {
		t.Fatal(err)
	}
	return id
}

// wantStock compares the shelf, a line a type.
func wantStock(t *testing.T, s *store.Store, name func(string) string, want ...string) {
	t.Helper()
	list, err := s.Stock(t.Context(), name)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, r := range list {
		hand := "?"
		if r.OnHand != nil {
			hand = fmt.Sprint(*r.OnHand)
		}
		counted := "never"
		if !r.Counted.IsZero() {
			counted = clock(r.Counted)
		}
		got = append(got, fmt.Sprintf("%s: %s, counted %s +%d -%d -%d", r.Type, hand, counted, r.Received, r.Scrapped, r.Fitted))
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("stock\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// typed is a fit that says the type of the blade.
func typed(saw string, at int, serial, kind string) *analyze.Reading {
	r := fit(saw, at, serial)
	r.Blade.Type = kind
	return r
}

func TestStockIsTheCountAndWhatCameAndWent(t *testing.T) {
	s := open(t)
	put(t, s, typed("s1", 0, "A1", "thin"), typed("s2", 0, "B1", "wide"))
	wantStock(t, s, nil)
	stocktake(t, s, store.StockScrapped, "wide", 1, 5)
	stocktake(t, s, store.StockReceived, "thin", 10, 10)
	wantStock(t, s, nil, "thin: 10, counted never +10 -0 -0", "wide: ?, counted never +0 -1 -0")

	// A blade from the shelf, one that hung before, one whose type another fitting
	// tells, one of another type, one nobody named.
	put(t, s,
		typed("s1", 20, "A2", "thin"), typed("s1", 21, "A1", "thin"),
		fit("s1", 22, "A3"), typed("s2", 23, "A3", "thin"),
		typed("s3", 20, "B2", "wide"), typed("s4", 20, "", "thin"))
	stocktake(t, s, store.StockScrapped, "thin", 1, 25)
	wantStock(t, s, nil, "thin: 7, counted never +10 -1 -2", "wide: ?, counted never +0 -1 -0")

	// A count begins anew, at its own time and not at that of the record.
	stocktake(t, s, store.StockCounted, "thin", 5, 21)
	wantStock(t, s, nil, "thin: 3, counted 21 +0 -1 -1", "wide: ?, counted never +0 -1 -0")
	stocktake(t, s, store.StockCounted, "thin", 0, 100)
	put(t, s, typed("s1", 101, "A4", "thin"))
	stocktake(t, s, store.StockCounted, "wide", 2, 100)
	wantStock(t, s, nil, "thin: -1, counted 100 +0 -0 -1", "wide: 2, counted 100 +0 -0 -0")
}

func TestStockKnowsATypeByItsOneName(t *testing.T) {
	s := open(t)
	stocktake(t, s, store.StockReceived, "THIN", 4, 0)
	stocktake(t, s, store.StockReceived, "thin", 3, 1)
	put(t, s, typed("s1", 5, "A", "Thin"))
	wantStock(t, s, strings.ToLower, "thin: 6, counted never +7 -0 -1")
	wantStock(t, s, nil, "THIN: 4, counted never +4 -0 -0", "thin: 3, counted never +3 -0 -0")
}

func TestStockRecordsAreStruckOut(t *testing.T) {
	s := open(t)
	stocktake(t, s, store.StockReceived, "thin", 10, 0)
	count := stocktake(t, s, store.StockCounted, "thin", 1, 5)
	void := store.StockRecord{Action: store.StockVoid, Void: count, Who: "Storekeeper", Why: "another shelf", Recorded: minute(50)}
	if id, err := s.Stocktake(t.Context(), void); id != 3 || err != nil {
		t.Error(id, err)
	}
	wantStock(t, s, nil, "thin: 10, counted never +10 -0 -0")
	for _, id := range []int64{count, 3, 99} { // struck out already, a void itself, none
		void.Void = id
		if _, err := s.Stocktake(t.Context(), void); err == nil || err.Error() != fmt.Sprintf("stock void: there is no record %d that still counts", id) {
			t.Errorf("record %d: %v", id, err)
		}
	}
	wantExport(t, s, "stock",
		"1,received,thin,10,2026-03-02T06:00:00.000000Z,,Storekeeper,seen,2026-03-09T04:40:00.000000Z",
		"2,counted,thin,1,2026-03-02T06:05:00.000000Z,,Storekeeper,seen,2026-03-09T04:40:00.000000Z",
		"3,void,thin,0,2026-03-02T06:05:00.000000Z,2,Storekeeper,another shelf,2026-03-02T06:50:00.000000Z")
}

func TestStockRefuses(t *testing.T) {
	s := open(t)
	for name, c := range map[string]struct {
		change func(*store.StockRecord)
		want   string
	}{
		"another action":    {func(r *store.StockRecord) { r.Action = "lent" }, "stock lent: it is none of received, scrapped, counted, void"},
		"no type":           {func(r *store.StockRecord) { r.Type = "" }, "stock received: the type of the blades is missing"},
		"none":              {func(r *store.StockRecord) { r.N = 0 }, "stock received: 0 blades, allowed is 1 to 100000"},
		"a count below 0":   {func(r *store.StockRecord) { r.Action, r.N = store.StockCounted, -1 }, "stock counted: -1 blades, allowed is 0 to 100000"},
		"a slip":            {func(r *store.StockRecord) { r.N = 100_001 }, "stock received: 100001 blades, allowed is 1 to 100000"},
		"no time":           {func(r *store.StockRecord) { r.At = time.Time{} }, "stock received: the time is missing"},
		"the future":        {func(r *store.StockRecord) { r.At = minute(3) }, "stock received: 2026-03-02T06:03:00Z is in the future"},
		"nobody":            {func(r *store.StockRecord) { r.Who = "" }, "stock received: who says so and why are needed"},
		"an endless type":   {func(r *store.StockRecord) { r.Type = strings.Repeat("x", 1001) }, "stock received: a text of 1001 bytes, at most 1000 are allowed"},
		"a void of nothing": {func(r *store.StockRecord) { r.Action = store.StockVoid }, "stock void: the number of the record is missing"},
	} {
		t.Run(name, func(t *testing.T) {
			r := store.StockRecord{Action: store.StockReceived, Type: "thin", N: 1, At: minute(1), Who: "S", Why: "x", Recorded: minute(2)}
			c.change(&r)
			if _, err := s.Stocktake(t.Context(), r); err == nil || err.Error() != c.want {
				t.Errorf("error %v, want %s", err, c.want)
			}
		})
	}
	wantStock(t, s, nil)
}
