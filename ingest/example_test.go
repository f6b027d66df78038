package ingest_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"plybook/ingest"
)

func ExampleRead() {
	dir, err := os.MkdirTemp("", "log")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	var paths []string
	for _, f := range []struct{ name, text string }{
		{"limbs.csv", "person,side,level\nP1,L,B/K\n"},
		{"sockets.csv", "socket,limb,kind,delivered\n007,P1-L,def,2024-02-01\n"},
		{"visits.csv", "socket,date,ply,comfort\n007,2024-02-01,5+3,7\n007,2024-05-01,3-5,11\n"},
	} {
		path := filepath.Join(dir, f.name)
		if err := os.WriteFile(path, []byte(f.text), 0o600); err != nil {
			fmt.Println(err)
			return
		}
		paths = append(paths, path)
	}
	log, err := ingest.Read(context.Background(), paths, ingest.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range log.Sheets {
		fmt.Printf("%s: %d rows read, %d used, %d set aside; %d values set aside\n", s.Table, s.Read, s.Used, s.SetAside, s.ValuesSetAside)
	}
	for _, p := range log.Problems {
		fmt.Println(p.Cell, p.Text)
	}
	fmt.Println(log.Limbs[0].Level.Code, log.Visits[0].Ply.Value.Total, log.Visits[0].Ply.Value.Socks)
	// Output:
	// limbs: 1 rows read, 1 used, 0 set aside; 0 values set aside
	// sockets: 1 rows read, 1 used, 0 set aside; 0 values set aside
	// visits: 2 rows read, 2 used, 0 set aside; 1 values set aside
	// C3 "3-5" is a range; its middle, 4, is used.
	// D3 "11" is outside 0 to 10; the value was set aside.
	// transtibial 8 [5 3]
}

func ExampleVocabulary_Lookup() {
	for _, text := range []string{"B/K", "transtibal", "BX"} {
		m := ingest.Levels().Lookup(text)
		fmt.Printf("%s: %q, near: %v\n", text, m.Code, m.How == ingest.Near)
	}
	// Output:
	// B/K: "transtibial", near: false
	// transtibal: "transtibial", near: true
	// BX: "", near: false
}
