package store_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"gorm.io/gorm"
	"gorm.io/gorm/schema"

	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
)

// Every table has a row struct with just its columns, of a fitting type; and no
// column is a float or a decimal, which could hold neither money nor a length.
func TestSchemaMatchesRows(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		db := store.Writer(s)
		tables, err := db.Migrator().GetTables()
		if err != nil {
			t.Fatal(err)
		}
		tables = slices.DeleteFunc(tables, func(n string) bool { return n == "schema_versions" || strings.HasPrefix(n, "sqlite_") })
		for _, row := range store.RowTypes {
			stmt := &gorm.Statement{DB: db}
			if err := stmt.Parse(row); err != nil {
				t.Fatal(err)
			}
			table := stmt.Schema.Table
			if i := slices.Index(tables, table); i >= 0 {
				tables = slices.Delete(tables, i, i+1)
			}
			compare(t, db, table, stmt.Schema)
		}
		if len(tables) > 0 {
			t.Errorf("tables without a row struct in rowTypes: %v", tables)
		}
	})
}

func compare(t *testing.T, db *gorm.DB, table string, rows *schema.Schema) {
	t.Helper()
	columns, err := db.Migrator().ColumnTypes(table)
	if err != nil {
		t.Fatal(err)
	}
	inTable := map[string]string{}
	for _, c := range columns {
		inTable[c.Name()] = family(c.DatabaseTypeName())
	}
	for _, f := range rows.Fields {
		if f.DBName == "" {
			continue
		}
		got, ok := inTable[f.DBName]
		delete(inTable, f.DBName)
		if want := fmt.Sprint(f.DataType); !ok || got != want {
			t.Errorf("%s.%s: the struct holds %s, the table %q", table, f.DBName, want, got)
		}
	}
	for name := range inTable {
		t.Errorf("%s.%s is in no struct", table, name)
	}
}

// family gives gorm's word for a column type; a type that isn't allowed stays
// as it is and so matches nothing.
func family(column string) string {
	switch strings.ToUpper(column) {
	case "BIGINT", "INTEGER", "INT8":
		return "int"
	case "TEXT":
		return "string"
	case "BOOLEAN", "BOOL":
		return "bool"
	case "DATETIME", "TIMESTAMPTZ":
		return "time"
	case "BLOB", "BYTEA":
		return "bytes"
	}
	return column
}
