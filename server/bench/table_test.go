package bench

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write TABLE.md and ratios.json anew")

const (
	tableFile  = "TABLE.md"
	ratiosFile = "ratios.json"
	worse      = 1.2 // a ratio this much worse than the kept one fails
)

// ratio is one thing against another, measured turn by turn in one run.
type ratio struct {
	name   string // by which it is kept
	says   string
	least  float64 // it should be at least this; 0: at most
	most   float64
	rounds []float64
}

func (r ratio) sorted() []float64 { return slices.Sorted(slices.Values(r.rounds)) }

func (r ratio) median() float64 { s := r.sorted(); return s[len(s)/2] }

// wanted says the aim and whether the median reaches it.
func (r ratio) wanted() string {
	reached := func(ok bool) string {
		if ok {
			return "reached"
		}
		return "**missed**"
	}
	switch {
	case r.least > 0:
		return fmt.Sprintf("≥ %s, %s", short(r.least), reached(r.median() >= r.least))
	case r.most > 0:
		return fmt.Sprintf("≤ %s, %s", short(r.most), reached(r.median() <= r.most))
	}
	return ""
}

// short is a number to three figures.
func short(x float64) string {
	if x == 0 || math.Abs(x) >= 100 {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.*f", max(0, 2-int(math.Floor(math.Log10(math.Abs(x))))), x)
}

// table is what a run measured.
type table struct {
	text   strings.Builder
	ratios []ratio
}

func (b *table) say(format string, args ...any) { fmt.Fprintf(&b.text, format, args...) }

func (b *table) head(title string) {
	b.say("\n## %s\n\n", title)
}

// ratiosSaid writes ratios as a table.
func (b *table) add(ratios ...ratio) {
	b.say("| ratio | minimum | median | maximum | wanted |\n|---|---|---|---|---|\n")
	for _, r := range ratios {
		s := r.sorted()
		b.say("| %s | %s | %s | %s | %s |\n", r.says, short(s[0]), short(r.median()), short(s[len(s)-1]), r.wanted())
	}
	b.ratios = append(b.ratios, ratios...)
}

// TestTable measures everything and prints the table; -update writes it and the
// ratios down. Without, it fails where a ratio is more than a fifth worse than the
// one written down.
func TestTable(t *testing.T) {
	if os.Getenv("STILLSAW_LONG") == "" {
		t.Skip("takes some minutes; with STILLSAW_LONG=1")
	}
	b := &table{}
	b.say("# What was measured\n\nWritten by `STILLSAW_LONG=1 go test ./server/bench -run TestTable -v -timeout 1h -update`. Each ratio is of two things that took turns in one run (A B A B …), so that what else the computer did fell on both.\n\n%s\n", machine(t))
	kept := map[string]float64{}
	if written, err := os.ReadFile(ratiosFile); err == nil {
		require.NoError(t, json.Unmarshal(written, &kept))
	}
	for _, part := range parts() {
		if only := os.Getenv("STILLSAW_PART"); only != "" && part.name != only {
			continue
		}
		part.measure(t, b)
		b.say("\nLoad of the computer after this part: %s.\n", loadAverage())
		if *update { // after each, so that what took long is kept whatever comes of the next
			b.write(t, kept)
		}
	}
	t.Log("\n" + b.text.String())
	if *update {
		return
	}
	for _, fault := range regressions(b.ratios, kept) {
		t.Error(fault)
	}
}

// write keeps the table, and of what was measured the ratios.
func (b *table) write(t *testing.T, kept map[string]float64) {
	require.NoError(t, os.WriteFile(tableFile, []byte(b.text.String()), 0o644))
	for _, r := range b.ratios {
		kept[r.name] = math.Round(r.median()*1000) / 1000
	}
	written, err := json.MarshalIndent(kept, "", "  ")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(ratiosFile, append(written, '\n'), 0o644))
}

// regressions names what is more than a fifth worse than what was kept.
func regressions(measured []ratio, kept map[string]float64) (faults []string) {
	for _, r := range measured {
		before, known := kept[r.name]
		if !known {
			continue
		}
		now := r.median()
		if r.most > 0 && now > before*worse || r.most == 0 && now < before/worse {
			faults = append(faults, fmt.Sprintf("%s: %s, kept %s", r.name, short(now), short(before)))
		}
	}
	return faults
}

func TestARatioAFifthWorseIsARegression(t *testing.T) {
	kept := map[string]float64{"speed": 2, "cost": 2}
	measured := func(speed, cost float64) []ratio {
		return []ratio{{name: "speed", least: 9, rounds: []float64{0, speed, 99}}, {name: "cost", most: 1, rounds: []float64{0, cost, 99}}, {name: "new", rounds: []float64{1}}}
	}
	require.Empty(t, regressions(measured(1.7, 2.3), kept))
	require.Empty(t, regressions(measured(5, 0.1), kept), "better is no regression")
	require.Equal(t, []string{"speed: 1.60, kept 2.00"}, regressions(measured(1.6, 2), kept))
	require.Equal(t, []string{"cost: 2.50, kept 2.00"}, regressions(measured(2, 2.5), kept))
}

// part is one section of the table.
type part struct {
	name    string
	measure func(*testing.T, *table)
}

func parts() []part {
	return []part{{"signoffs", measureSignOffs}, {"record", measureRecord}, {"pages", measurePages}, {"program", measureProgram}, {"streams", measureStreams}, {"mills", measureMills}}
}

// turnsOf has each of ways do its turn, one after the other, that many rounds.
func turnsOf(rounds int, ways ...func(round int)) {
	for round := range rounds {
		for _, way := range ways {
			way(round)
		}
	}
}

// perRound is one figure of each round.
func perRound(n int, of func(round int) float64) []float64 {
	each := make([]float64, n)
	for i := range each {
		each[i] = of(i)
	}
	return each
}

const (
	rounds = 5
	aTurn  = 2 * time.Second
)

// middleOf is the time in the middle.
func middleOf(times []time.Duration) time.Duration {
	sorted := slices.Sorted(slices.Values(times))
	return sorted[len(sorted)/2]
}
