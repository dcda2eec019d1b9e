package main

import (
	"encoding/xml"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// rows are times of two pages over three fleets, and what is not drawn.
func rows() string {
	var b strings.Builder
	for i, fryers := range []int{100_000, 1000, 10_000} {
		for _, page := range []string{"desk", "search", "lately"} {
			fmt.Fprintf(&b, "pages\t%s\t1\tp50\tms\t%d\t%g\t0.05\t100\ta \"bare\" handler\n", page, fryers, 1.5+float64(i))
			fmt.Fprintf(&b, "pages\t%s\t32\tp99\tms\t%d\t%g\t0.5\t100\t\n", page, fryers, 20+float64(i))
			fmt.Fprintf(&b, "pages\t%s\t32\trate\trequests/s\t%d\t900\t9000\t100\t\n", page, fryers)
		}
	}
	b.WriteString("import\timport\t0\trate\trows/s\t1000\t9000\t90000\t1000\t\n")
	b.WriteString("pages\tdesk\t1\tp50\tms\t1000\t7\t0.05\t100\tmeasured again\n")
	return b.String()
}

func TestTheLastMeasurementOfAPageIsDrawn(t *testing.T) {
	all, err := read(strings.NewReader(rows()))
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 2 || len(all[0].series) != 2 || len(all[1].series) != 2 {
		t.Fatalf("%+v", all)
	}
	want := []point{{1000, 7}, {10_000, 3.5}, {100_000, 1.5}}
	if got := all[0].series[0].points; fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("%v, not %v", got, want)
	}
}

func TestThePictureIsWholeAndLabelled(t *testing.T) {
	in, out := filepath.Join(t.TempDir(), "rows.tsv"), filepath.Join(t.TempDir(), "scale.svg")
	if err := os.WriteFile(in, []byte(rows()), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := run([]string{in, out}); err != nil {
		t.Fatal(err)
	}
	svg, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	for d := xml.NewDecoder(strings.NewReader(string(svg))); err == nil; {
		_, err = d.Token()
	}
	if err != io.EOF { //nolint:errorlint // the decoder gives it bare
		t.Error(err)
	}
	for _, words := range []string{"desk", "search", "fryers in the fleet", "ms", "1,000", "100,000", "p99, 32 users"} {
		if !strings.Contains(string(svg), words) {
			t.Errorf("nothing says %q", words)
		}
	}
	if strings.Contains(string(svg), "lately") {
		t.Error("more pages are drawn than can be told apart")
	}
}

func TestRowsThatCannotBeDrawn(t *testing.T) {
	for name, text := range map[string]string{
		"none": "", "no columns": "pages\tdesk\n", "no time": strings.ReplaceAll(rows(), "1.5", "0"), "no number": strings.ReplaceAll(rows(), "1.5", "fast"),
		"nothing for many users": strings.ReplaceAll(rows(), "p99", "p98"),
	} {
		if _, err := read(strings.NewReader(text)); err == nil {
			t.Errorf("%s: no complaint", name)
		}
	}
	if err := run([]string{"one"}); err == nil {
		t.Error("no complaint without a file to write")
	}
}
