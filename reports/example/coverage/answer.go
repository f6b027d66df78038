package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"plybook/ingest"
	"plybook/reports/answer"
	"plybook/reports/example"
	"plybook/reports/example/estimand"
	"plybook/reports/notebook"
	"plybook/reports/study"
)

func answerSeed(ctx context.Context, truth example.Truth, list []estimand.Estimand, seed uint64, messy bool) (drawn, error) {
	var d drawn
	var err error
	if d.clean, err = answerLog(ctx, list, truth.Draw(seed)); err != nil || !messy {
		return d, err
	}
	log, err := readBack(ctx, seed)
	if err != nil {
		return d, err
	}
	d.messy, err = answerLog(ctx, list, log)
	return d, err
}

// answerLog answers the notebook's asks from a log and reads the estimates.
func answerLog(ctx context.Context, list []estimand.Estimand, log *ingest.Log) ([]result, error) {
	nb, err := notebook.Parse("truth.md", estimand.Notebook)
	if err != nil {
		return nil, err
	}
	sc, err := study.New(nb, log, nil)
	if err != nil {
		return nil, err
	}
	var answers []*answer.Answer
	failed := map[string]error{}
	for _, ask := range nb.Asks() {
		a := answer.Run(ctx, sc, ask)
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if answers = append(answers, a); a.Error != nil {
			failed[a.ID] = fmt.Errorf("%s: %s", a.ID, a.Error.Text)
		}
	}
	tables := estimand.FromAnswers(answers)
	out := make([]result, len(list))
	for i, m := range list {
		if out[i].err = failed[m.Ask]; out[i].err != nil {
			continue
		}
		out[i].Estimate, out[i].err = m.Read(tables)
	}
	return out, nil
}

// readBack writes the example's workbooks and reads them as a run does.
func readBack(ctx context.Context, seed uint64) (log *ingest.Log, err error) {
	dir, err := os.MkdirTemp("", "plybook-coverage-")
	if err != nil {
		return nil, err
	}
	defer func() {
		if e := os.RemoveAll(dir); err == nil {
			err = e
		}
	}()
	files, err := example.Files(ctx, seed)
	if err != nil {
		return nil, err
	}
	var paths []string
	for name, data := range files {
		if !strings.HasSuffix(name, ".xlsx") {
			continue
		}
		path := filepath.Join(dir, filepath.Base(name))
		if err := os.WriteFile(path, data, 0o600); err != nil {
			return nil, err
		}
		paths = append(paths, path)
	}
	sort.Strings(paths)
	return ingest.Read(ctx, paths, ingest.Options{})
}
