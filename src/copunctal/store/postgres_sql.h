// From the SQL of this program, which SQLite takes as it stands, to PostgreSQL's.
//
// Internal to store/. All SQL, migrations too, is written once. It runs on both databases when it
// keeps to these habits; what leaves them is refused here or by PostgreSQL, and store/ tests run on
// both.
//  - Keywords in capitals, names in small letters: a name in small letters that PostgreSQL reserves
//    ("end") is quoted here. Names hold no capitals.
//  - Types are TEXT (bytes compared, as SQLite does), INTEGER (64 bits) and REAL; tables are
//    STRICT. INTEGER PRIMARY KEY counts by itself. No AUTOINCREMENT, BLOB or COLLATE.
//  - Parameters are ?1, ?2 ..., or all plain ?. They take the type of what they meet.
//  - Truth is 0 or 1 in a column of its own, compared (hidden = 1), never used bare.
//  - ORDER BY columns that are not null: the databases put null at different ends.
//  - INSERT OR IGNORE, never OR REPLACE. IS and IS NOT between any two values.
//  - LIKE has no escape unless ESCAPE names it. GLOB takes a literal.
//  - Functions: abs, avg, coalesce, count, ifnull, instr, length, lower, max, min (of one column),
//    replace, round, substr, sum, trim, upper, char.
//  - A trigger's body holds SELECT raise(ABORT, '...') [FROM ... WHERE ...], INSERT, UPDATE,
//  DELETE.
//    Its name is the database's own: no two tables have a trigger of one name.
//  - ALTER TABLE ADD COLUMN and DROP TABLE of what nobody refers to. A step that rebuilds a table
//    has a second script for PostgreSQL (Migration::postgres), which takes all that PostgreSQL can.
//  - No PRAGMA, no rowid, no sqlite_schema.
//  - A statement that failed has spoilt its change on PostgreSQL: pass the Error on. What may be
//    there already is asked for first, or met by ON CONFLICT.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"

namespace copunctal {

struct PostgresSql {
  std::string sql;
  /// For each of PostgreSQL's parameters $1, $2 ... the number of ours that it takes its value
  /// from: one that is asked IS NULL is passed once more, as text, because that alone says no type.
  std::vector<int> parameters;
};

/// A statement, or a script of several without parameters. Error: unsupported, naming what this
/// cannot translate.
Result<PostgresSql> postgres_from(std::string_view sql);

}  // namespace copunctal
