package export

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"plybook/analysis/disclose"
	"plybook/ingest"
	"plybook/reports/study"
)

// noted writes a notebook beside a log of text tables and returns its path.
func noted(t *testing.T, front string, log map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "log"), 0o700); err != nil {
		t.Fatal(err)
	}
	for name, text := range log {
		if err := os.WriteFile(filepath.Join(dir, "log", name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	path := filepath.Join(dir, "n.md")
	if err := os.WriteFile(path, []byte("---\ntitle: A study of Dr Okonjowa\nlog: [log/*.csv]\n"+front+"---\n\nText.\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func run(t *testing.T, path string, o Options) (*Result, error) {
	t.Helper()
	o.Notebook, o.Release, o.Replace = path, "test", true
	return Run(context.Background(), o)
}

// rows reads a table of a data set: a row by its column names.
func rows(t *testing.T, folder, name string) []map[string]string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(folder, name+".csv"))
	if err != nil {
		t.Fatal(err)
	}
	all, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range all[1:] {
		m := map[string]string{}
		for i, h := range all[0] {
			m[h] = r[i]
		}
		out = append(out, m)
	}
	return out
}

// named is a log as a lab may keep it that has never heard of codes. Names
// stand in texts too, and days.
func named() (log map[string]string, secrets []string) {
	limbs := "person,limb,side,level,cause,born,sex,programme,amputated,mrn,remarks,last_seen,shoe,next fitting\n"
	sockets := "socket,limb,kind,cast_method,cast_by,material,site,delivered,ended,end_reason\n"
	visits := "visit,socket,date,time,purpose,ply,comfort,mass_kg,seen_by\n"
	secrets = []string{"Rosamund", "Tillbrook", "Okonjowa", "Bergstrand", "447110", "rang", "kind wife", "2023-04", "17 May 2023"}
	for i := range 30 {
		name := fmt.Sprintf("Anneliese Bergstrand%s", strings.Repeat("x", i))
		limbs += fmt.Sprintf("%s,%s leg,left,TT,trauma,%d,male,%s,20%02d-03-05,447110%03d,rang %d; kind wife,2024-12-%02d,%d,2025-01-%02d\n", name, name, 1931+2*i,
			[]string{"veterans", "asked for by " + name}[i/29], i%20, i, i, 1+i%28, 38+i%6, 1+i%28)
		sockets += fmt.Sprintf("%s socket,%s leg,definitive,%s,Rosamund Tillbrook,%s,Tillbrook clinic,2023-%02d-10,,\n", name, name,
			[]string{"hand", "hand 17 May 2023", "=cmd|x"}[i/10%3], []string{"carbon", "gift of " + name}[i/28], 1+i%12)
		visits += fmt.Sprintf("%s 1,%s socket,2024-02-%02d,10:%02d,follow-up,3,7,%d,Rosamund Tillbrook\n", name, name, 1+i%28, i, 60+i)
	}
	return map[string]string{"limbs.csv": limbs, "sockets.csv": sockets, "visits.csv": visits}, secrets
}

func TestNamesAndTextsStayBehind(t *testing.T) {
	log, secrets := named()
	path := noted(t, "", log)
	res, err := run(t, path, Options{K: 5, Own: []string{"shoe", "next fitting"}})
	if err != nil {
		t.Fatal(err)
	}
	err = filepath.WalkDir(res.Folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		b = regexp.MustCompile(`(?s)<(script|style)>.*?</(script|style)>`).ReplaceAll(b, nil) // the same on every page
		for _, s := range secrets {
			if strings.Contains(strings.ToLower(string(b)), strings.ToLower(s)) {
				t.Errorf("%s holds %q", filepath.Base(path), s)
			}
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	sockets := rows(t, res.Folder, "sockets")
	for _, s := range sockets {
		switch s["cast_method"] {
		case "hand", "hand (date)", "'=cmd|x":
		default:
			t.Errorf("cast_method %q", s["cast_method"])
		}
		// Two of 30 persons have another material: with five to share it all are
		// pooled rather than two told of.
		if s["material"] != pooled {
			t.Errorf("material %q", s["material"])
		}
		if s["delivered_day"] != "0" || s["start_day"] != "0" || s["ended_as"] != "in use" {
			t.Errorf("%v", s)
		}
	}
	for _, v := range rows(t, res.Folder, "visits") {
		if m := v["mass_kg"]; m < "64" || m > "85" { // the fifth of 60 to 89 from either end
			t.Errorf("mass %s", m)
		}
		if v["comfort"] != "7" || v["ply"] != "3" || v["time"] != "" {
			t.Errorf("%v", v)
		}
	}
	shoes, ahead := map[string]int{}, 0
	for _, l := range rows(t, res.Folder, "limbs") {
		shoes[l["own.shoe"]]++
		if l["own.next fitting_day"] != "" {
			ahead++
		}
		if l["remarks"] != "" || l["born"] != "" || l["own.mrn"] != "" {
			t.Errorf("%v", l)
		}
	}
	if len(shoes) != 6 || ahead != 30 {
		t.Errorf("own columns: %v, %d days", shoes, ahead)
	}
	for _, own := range []string{"mrn", "remarks"} {
		if _, err := run(t, path, Options{Own: []string{own}}); !errors.Is(err, ErrOwn) {
			t.Errorf("--own %s: %v", own, err)
		}
	}
}

// The days of one person, worked out by hand.
func TestDaysByHand(t *testing.T) {
	limbs, sockets, visits := "person,limb,side,level,cause,born,amputated,died\n", "socket,limb,kind,replaces,referred,delivered,remake_decided,ended,end_reason\n", "visit,socket,date,purpose,ply\n"
	for i := range 12 {
		limbs += fmt.Sprintf("P%02d,L%02d,left,TT,trauma,1928,2019-01-31,2024-03-01\n", i, i)
		sockets += fmt.Sprintf("S%02da,L%02d,definitive,,2023-01-01,2023-02-01,2023-09-01,2023-10-01,volume loss\n", i, i)
		sockets += fmt.Sprintf("S%02db,L%02d,definitive,S%02da,2023-09-01,2023-10-01,,,\n", i, i, i)
		visits += fmt.Sprintf("V%02d,S%02db,2023-10-11,follow-up,2\n", i, i)
	}
	path := noted(t, "from: 2023-03-01\nto: 2024-06-30\n", map[string]string{"limbs.csv": limbs, "sockets.csv": sockets, "visits.csv": visits})
	res, err := run(t, path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if res.K != DefaultK || res.Persons != 12 || res.Smallest != 12 || res.Kinds != 1 {
		t.Errorf("%+v", res)
	}
	// 2019-01-31 is 1462 days before, which is 4 years of 365 days.
	l := rows(t, res.Folder, "limbs")[0]
	if l["age_band"] != "90 and over" || l["amputated_day"] != "-1460" || l["died_day"] != "394" || l["last_seen_day"] != "394" || l["first_delivery_year"] != "2023" || l["level"] != "transtibial" {
		t.Errorf("%v", l)
	}
	one, two := rows(t, res.Folder, "sockets")[0], rows(t, res.Folder, "sockets")[1]
	for column, want := range map[string]string{"delivered_day": "0", "referred_day": "-31", "referred_since_delivery": "-31", "remake_decided_day": "212", "ended_since_delivery": "242",
		"enters_after_days": "28", "watched_days": "212", "ended_as": "remake: volume loss", "replaces": ""} {
		if one[column] != want {
			t.Errorf("first socket, %s: %q, want %q", column, one[column], want)
		}
	}
	for column, want := range map[string]string{"delivered_day": "242", "referred_day": "212", "referred_since_delivery": "-30", "enters_after_days": "0", "watched_days": "152", "ended_as": "died", "replaces": one["socket"], "person": one["person"]} {
		if two[column] != want {
			t.Errorf("second socket, %s: %q, want %q", column, two[column], want)
		}
	}
	if v := rows(t, res.Folder, "visits")[0]; v["date_day"] != "252" || v["days_since_delivery"] != "10" || !strings.HasPrefix(v["visit"], "V-") {
		t.Errorf("%v", v)
	}
}

func TestDegenerateLogs(t *testing.T) {
	person := func(n int) string {
		s := "person,limb,side,level\n"
		for i := range n {
			s += fmt.Sprintf("P%02d,L%02d,right,TF\n", i, i)
		}
		return s
	}
	for name, c := range map[string]struct {
		log map[string]string
		err error
	}{
		"nobody":             {map[string]string{"limbs.csv": person(0)}, ErrEmpty},
		"one person":         {map[string]string{"limbs.csv": person(1)}, ErrEmpty},
		"too few":            {map[string]string{"limbs.csv": person(4)}, ErrEmpty},
		"no dates":           {map[string]string{"limbs.csv": person(6)}, nil},
		"sockets of no date": {map[string]string{"limbs.csv": person(6), "sockets.csv": "socket,limb,kind\nS1,L01,definitive\n"}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			path := noted(t, "", c.log)
			res, err := run(t, path, Options{})
			if !errors.Is(err, c.err) {
				t.Fatalf("%v, want %v", err, c.err)
			}
			target := strings.TrimSuffix(path, ".md") + "-export"
			if _, stat := os.Stat(target); (stat == nil) != (c.err == nil) {
				t.Errorf("the folder: %v", stat)
			}
			if c.err != nil {
				return
			}
			b, err := os.ReadFile(filepath.Join(res.Folder, "about.md"))
			if err != nil || strings.Contains(string(b), "NaN") {
				t.Errorf("%s %v", b, err)
			}
			if _, err := ingest.Read(context.Background(), []string{filepath.Join(res.Folder, "log.xlsx")}, ingest.Options{}); err != nil {
				t.Error(err)
			}
		})
	}
}

// With dates moved person by person, days are the same and no year is told.
func TestMovedDates(t *testing.T) {
	limbs, sockets := "person,limb,side,level\n", "socket,limb,kind,delivered,ended,end_reason\n"
	for i := range 8 {
		limbs += fmt.Sprintf("P%02d,L%02d,left,TT\n", i, i)
		sockets += fmt.Sprintf("S%02d,L%02d,definitive,2023-02-01,2023-10-01,volume loss\n", i, i)
	}
	path := noted(t, "shift_dates: 90d\n", map[string]string{"limbs.csv": limbs, "sockets.csv": sockets})
	logs, err := filepath.Glob(filepath.Join(filepath.Dir(path), "log", "*.csv"))
	if err != nil {
		t.Fatal(err)
	}
	log, err := ingest.Read(context.Background(), logs, ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	at := filepath.Join(filepath.Dir(path), "log", ingest.CodesFile)
	coder, err := ingest.OpenCodes(at, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(coder.Add(study.Persons(log), nil), coder.Save(at)); err != nil {
		t.Fatal(err)
	}
	res, err := run(t, path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if l := rows(t, res.Folder, "limbs")[0]; l[firstYear] != "" {
		t.Errorf("a year that is not the true one: %v", l)
	}
	if s := rows(t, res.Folder, "sockets")[0]; s["ended_day"] != "242" {
		t.Errorf("%v", s)
	}
}

func TestVersionsGrowCoarser(t *testing.T) {
	ages := []func(string) string{bandOf(5, 90), bandOf(10, 90), bandOf(20, 80), adults}
	years := []func(string) string{asItStands.of, yearsOf(2), yearsOf(4)}
	var values []string
	for i := range 120 {
		values = append(values, fmt.Sprint(i))
	}
	joins := func(name string, values []string, versions []func(string) string) {
		for v := 1; v < len(versions); v++ {
			into := map[string]string{}
			for _, x := range values {
				fine, coarse := versions[v-1](x), versions[v](x)
				if was, ok := into[fine]; ok && was != coarse {
					t.Errorf("%s: version %d parts %s into %s and %s", name, v, fine, was, coarse)
				}
				into[fine] = coarse
			}
		}
	}
	joins("age", values, ages)
	joins("year", []string{"2019", "2020", "2021", "2022", "2023", "2024", "2025"}, years)
	joins("level", ingest.Levels().Codes(), []func(string) string{asItStands.of, levelGroup, whichLimb})
	joins("cause", ingest.Causes().Codes(), []func(string) string{asItStands.of, causeGroup})
	for day, want := range map[float64]float64{-1: -1, 100: 100, -730: -730, -731: -730, -1000: -1095, -3650: -3650, -4000: -3650, -5000: -5475, -90000: -14600} {
		if got := roundedDay(day); got != want {
			t.Errorf("day %g: %g, want %g", day, got, want)
		}
	}
	if !math.IsNaN(roundedDay(math.NaN())) {
		t.Error("a day that is not known became one")
	}
}

func TestErrorOfK(t *testing.T) {
	path := noted(t, "", map[string]string{"limbs.csv": "person,limb,side,level\n"})
	if _, err := run(t, path, Options{K: 1}); !errors.Is(err, disclose.ErrK) {
		t.Error(err)
	}
}
