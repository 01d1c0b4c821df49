// Read prints what a database that has nothing to do with this project, DuckDB,
// makes of a data set: of a Parquet file, one of comma-separated values and one
// of JSON lines, whose names it is given. A JSON document has for each file its
// rows, the types of some columns, and counts and sums over its values.
package main

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"os"
	"strings"

	_ "github.com/duckdb/duckdb-go/v2"
)

// found is what is made of a file; of what it cannot tell there is nothing.
type found struct {
	Rows     int      `json:"rows"`
	Healthy  int      `json:"healthy"`
	Null     int      `json:"null"`
	Infinite int      `json:"infinite"`
	Volts    string   `json:"volts,omitempty"` // types
	Tripped  string   `json:"tripped,omitempty"`
	Index    string   `json:"index,omitempty"`
	Sum      *float64 `json:"sum,omitempty"` // of the drawn voltages of the supply
	Faults   *int     `json:"faults,omitempty"`
	Keys     *int     `json:"keys,omitempty"`
	Severity *float64 `json:"severity,omitempty"`
}

func main() {
	if len(os.Args) != 4 {
		fmt.Fprintln(os.Stderr, "usage: read FILE.parquet FILE.csv FILE.jsonl")
		os.Exit(2)
	}
	out, err := read(os.Args[1], os.Args[2], os.Args[3])
	if err == nil {
		err = json.NewEncoder(os.Stdout).Encode(out)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func read(parquet, csv, lines string) (map[string]*found, error) {
	db, err := sql.Open("duckdb", "")
	if err != nil {
		return nil, err
	}
	defer db.Close()
	a, b, c := &found{}, &found{}, &found{}
	quoted := func(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }
	for _, q := range []struct {
		what, from string
		to         []any
	}{
		{table, "read_parquet(" + quoted(parquet) + ")", []any{&a.Rows, &a.Healthy, &a.Null, &a.Infinite, &a.Volts, &a.Tripped, &a.Index, &a.Sum}},
		{faults, "read_parquet(" + quoted(parquet) + ")", []any{&a.Faults, &a.Keys, &a.Severity}},
		{table, "read_csv(" + quoted(csv) + ")", []any{&b.Rows, &b.Healthy, &b.Null, &b.Infinite, &b.Volts, &b.Tripped, &b.Index, &b.Sum}},
		{documents, "read_json_objects(" + quoted(lines) + ", format = 'newline_delimited') as t(j)", []any{&c.Rows, &c.Healthy, &c.Null, &c.Infinite, &c.Sum}},
		{faults, "read_json(" + quoted(lines) + ", format = 'newline_delimited')", []any{&c.Faults, &c.Keys, &c.Severity}},
	} {
		if err := db.QueryRow("select " + q.what + " from " + q.from).Scan(q.to...); err != nil {
			return nil, fmt.Errorf("%s: %w", q.from, err)
		}
	}
	return map[string]*found{"parquet": a, "csv": b, "lines": c}, nil
}

const (
	table = `count(*), count(*) filter (healthy), count(*) filter ("volts dye:output standby rms" is null), count(*) filter (isinf("ohms dye:element")),
		lower(any_value(typeof("volts dye:output standby rms"))), lower(any_value(typeof("tripped fuse"))), lower(any_value(typeof("index"))), sum("drawn supply.voltage")`
	faults    = `sum(len(truth))::bigint, sum(list_sum([len(f.keys) for f in truth]))::bigint, sum(list_sum([f.severity for f in truth]))`
	documents = `count(*), count(*) filter ((j->'healthy')::boolean), count(*) filter (j->>'$.observed."volts dye:output standby rms"' is null),
		count(*) filter (j->>'$.observed."ohms dye:element"' = 'inf'), sum((j->>'$.drawn."supply.voltage"')::double)`
)
