package store

import "gorm.io/gorm"

// Exec runs SQL as somebody with the file in hand would.
func Exec(s *Store, sql string) error { return translate(s.writer.Exec(sql).Error) }

// RowTypes are the row structs, for the comparison with the schema.
var RowTypes = rowTypes

// Writer gives the gorm handle, for looking at the schema.
func Writer(s *Store) *gorm.DB { return s.writer }

// OpenSQLite opens a pool that keeps its prepared statements.
var OpenSQLite = openSQLite

// MostKept is how many statements a connection keeps.
const MostKept = mostKept
