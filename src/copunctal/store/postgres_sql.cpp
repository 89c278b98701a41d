#include "copunctal/store/postgres_sql.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <map>
#include <optional>
#include <span>

#include "copunctal/base/text.h"

namespace copunctal {
namespace {

struct Token {
  enum class Kind { word, text, quoted, number, parameter, sign } kind;
  std::string text;  ///< As written, quotes and all.

  bool is(std::string_view wanted) const { return text == wanted && kind != Kind::quoted; }
};
using Tokens = std::span<const Token>;

tl::unexpected<Error> cannot_translate(const std::string& what) {
  return fail(Error::Kind::unsupported, "SQL that PostgreSQL cannot be given: " + what, "SQL", what,
              "keep to what store/postgres_sql.h says, or give the step a script for PostgreSQL");
}

bool is_word(char c) {
  return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_';
}

// White space and comments go; the rest is kept to the letter.
std::vector<Token> tokens_in(std::string_view sql) {
  std::vector<Token> tokens;
  std::size_t at = 0;
  const auto until = [&](std::size_t end, Token::Kind kind) {
    end = std::min(end, sql.size());
    tokens.push_back({kind, std::string(sql.substr(at, end - at))});
    at = end;
  };
  const auto past_quote = [&](char quote) {
    for (std::size_t end = at + 1; end < sql.size(); ++end) {
      if (sql[end] != quote) continue;
      if (end + 1 < sql.size() && sql[end + 1] == quote)
        ++end;  // doubled: it stands for itself
      else
        return end + 1;
    }
    return sql.size();
  };
  const auto while_word = [&] {
    std::size_t end = at + 1;
    while (end < sql.size() && is_word(sql[end])) ++end;
    return end;
  };
  while (at < sql.size()) {
    const char c = sql[at];
    const char next = at + 1 < sql.size() ? sql[at + 1] : '\0';
    if (std::isspace(static_cast<unsigned char>(c)) != 0) {
      ++at;
    } else if (c == '-' && next == '-') {
      at = std::min(sql.find('\n', at), sql.size());
    } else if (c == '\'') {
      until(past_quote(c), Token::Kind::text);
    } else if (c == '"') {
      until(past_quote(c), Token::Kind::quoted);
    } else if (c == '?') {
      until(while_word(), Token::Kind::parameter);
    } else if (std::isdigit(static_cast<unsigned char>(c)) != 0) {
      std::size_t end = while_word();
      while (end < sql.size() &&
             (is_word(sql[end]) || sql[end] == '.' ||
              ((sql[end] == '-' || sql[end] == '+') && std::tolower(sql[end - 1]) == 'e')))
        ++end;
      until(end, Token::Kind::number);
    } else if (is_word(c)) {
      until(while_word(), Token::Kind::word);
    } else {
      constexpr std::array<std::string_view, 6> pairs = {"<=", ">=", "<>", "!=", "==", "||"};
      const bool is_pair = std::find(pairs.begin(), pairs.end(), sql.substr(at, 2)) != pairs.end();
      until(at + (is_pair ? 2 : 1), Token::Kind::sign);
    }
  }
  return tokens;
}

// Statements end with a semicolon that is in no trigger's body.
std::vector<Tokens> statements_in(Tokens tokens) {
  std::vector<Tokens> statements;
  std::size_t first = 0;
  int depth = 0;
  bool is_trigger = false;
  const auto take = [&](std::size_t end) {
    if (end > first) statements.push_back(tokens.subspan(first, end - first));
    first = end + 1;
    is_trigger = false;
  };
  for (std::size_t i = 0; i < tokens.size(); ++i) {
    if (i == first + 1 && tokens[i].is("TRIGGER")) is_trigger = tokens[first].is("CREATE");
    if (is_trigger && (tokens[i].is("BEGIN") || tokens[i].is("CASE"))) ++depth;
    if (is_trigger && tokens[i].is("END")) --depth;
    if (tokens[i].is(";") && depth == 0) take(i);
  }
  take(tokens.size());
  return statements;
}

// Words that PostgreSQL 15 reserves (its manual, appendix C) and SQLite does not.
constexpr auto reserved = std::to_array<std::string_view>({"all",
                                                           "analyse",
                                                           "analyze",
                                                           "and",
                                                           "any",
                                                           "array",
                                                           "as",
                                                           "asc",
                                                           "asymmetric",
                                                           "both",
                                                           "case",
                                                           "cast",
                                                           "check",
                                                           "collate",
                                                           "column",
                                                           "constraint",
                                                           "create",
                                                           "current_date",
                                                           "current_role",
                                                           "current_time",
                                                           "current_timestamp",
                                                           "current_user",
                                                           "default",
                                                           "deferrable",
                                                           "desc",
                                                           "distinct",
                                                           "do",
                                                           "else",
                                                           "end",
                                                           "except",
                                                           "false",
                                                           "fetch",
                                                           "for",
                                                           "foreign",
                                                           "from",
                                                           "grant",
                                                           "group",
                                                           "having",
                                                           "in",
                                                           "initially",
                                                           "intersect",
                                                           "into",
                                                           "lateral",
                                                           "leading",
                                                           "limit",
                                                           "localtime",
                                                           "localtimestamp",
                                                           "not",
                                                           "null",
                                                           "offset",
                                                           "on",
                                                           "only",
                                                           "or",
                                                           "order",
                                                           "placing",
                                                           "primary",
                                                           "references",
                                                           "returning",
                                                           "select",
                                                           "session_user",
                                                           "some",
                                                           "symmetric",
                                                           "table",
                                                           "then",
                                                           "to",
                                                           "trailing",
                                                           "true",
                                                           "union",
                                                           "unique",
                                                           "user",
                                                           "using",
                                                           "variadic",
                                                           "when",
                                                           "where",
                                                           "window",
                                                           "with"});

// A pattern of GLOB as a regular expression.
std::string regular_expression(const std::string& pattern) {
  std::string regular = "'^";
  bool is_in_set = false;
  for (const char c : pattern.substr(1, pattern.size() - 2)) {
    if (is_in_set) {
      is_in_set = c != ']';
      regular += c;
    } else if (c == '[') {
      is_in_set = true;
      regular += c;
    } else if (c == '*') {
      regular += ".*";
    } else if (c == '?') {
      regular += '.';
    } else {
      if (std::string_view(".^$+{}()|\\]").find(c) != std::string_view::npos) regular += '\\';
      regular += c;
    }
  }
  return regular + "$'";
}

/// Translates one statement, or a piece of one.
class Translation {
 public:
  explicit Translation(std::vector<int>& parameters) : parameters_(parameters) {}

  Result<std::string> statement(Tokens tokens);

 private:
  Result<std::string> trigger(Tokens tokens);
  Result<std::string> in_trigger(Tokens tokens);
  Result<std::string> piece(Tokens tokens, bool defines);
  Result<std::string> word(Tokens tokens, std::size_t& at, bool defines);
  Result<std::string> parameter(Tokens tokens, std::size_t at);

  std::vector<int>& parameters_;
  std::map<int, int> number_of_;  ///< Of ours, PostgreSQL's.
  int plain_ = 0;                 ///< Plain ? so far.
};

bool at_is(Tokens tokens, std::size_t at, std::string_view wanted) {
  return at < tokens.size() && tokens[at].is(wanted);
}

Result<std::string> Translation::parameter(Tokens tokens, std::size_t at) {
  const std::string& written = tokens[at].text;
  int ours = 0;
  if (written == "?") {
    ours = ++plain_;
  } else {
    const auto number = whole_number_from(std::string_view{written}.substr(1));
    if (!number || *number < 1 || *number > 999) return cannot_translate("parameter " + written);
    ours = static_cast<int>(*number);
  }
  const bool is_asked = at_is(tokens, at + 1, "IS") &&
                        (at_is(tokens, at + 2, "NULL") ||
                         (at_is(tokens, at + 2, "NOT") && at_is(tokens, at + 3, "NULL")));
  if (is_asked) {
    parameters_.push_back(ours);
    return "$" + std::to_string(parameters_.size()) + "::text";
  }
  const auto [known, is_new] = number_of_.try_emplace(ours, 0);
  if (is_new) {
    parameters_.push_back(ours);
    known->second = static_cast<int>(parameters_.size());
  }
  return "$" + std::to_string(known->second);
}

// `at` is moved to the last token that was used.
Result<std::string> Translation::word(Tokens tokens, std::size_t& at, bool defines) {
  const std::string& text = tokens[at].text;
  const auto next_is = [&](std::size_t ahead, std::string_view wanted) {
    return at_is(tokens, at + ahead, wanted);
  };
  for (const char* never : {"PRAGMA", "BLOB", "REPLACE", "COLLATE", "AUTOINCREMENT", "ATTACH"})
    if (text == never) return cannot_translate(text);
  if (text == "sqlite_schema" || text == "rowid") return cannot_translate(text);
  if (defines && text == "TEXT") return "text COLLATE \"C\"";
  if (text == "TEXT") return "text";
  if (text == "REAL") return "double precision";
  if (text == "INTEGER" && defines && next_is(1, "PRIMARY"))
    return "bigint GENERATED BY DEFAULT AS IDENTITY";
  if (text == "INTEGER") return "bigint";
  if (text == "IS") {
    const bool is_not = next_is(1, "NOT");
    const std::size_t value = is_not ? 2 : 1;
    for (const char* plain : {"NULL", "DISTINCT", "TRUE", "FALSE"})
      if (next_is(value, plain)) return text;
    if (is_not) ++at;
    return is_not ? "IS DISTINCT FROM" : "IS NOT DISTINCT FROM";
  }
  const bool is_not = text == "NOT" && (next_is(1, "GLOB") || next_is(1, "LIKE"));
  const std::size_t pattern = is_not ? 2 : 1;
  if (text == "GLOB" || (is_not && next_is(1, "GLOB"))) {
    if (at + pattern >= tokens.size() || tokens[at + pattern].kind != Token::Kind::text)
      return cannot_translate("GLOB of what is no literal");
    at += pattern;
    return (is_not ? "!~ " : "~ ") + regular_expression(tokens[at].text);
  }
  if (text == "LIKE" || is_not) {
    if (at + pattern >= tokens.size()) return cannot_translate("LIKE without a pattern");
    at += pattern;
    std::string like = is_not ? "NOT ILIKE " : "ILIKE ";
    if (tokens[at].kind == Token::Kind::parameter) {
      COPUNCTAL_TRY(const std::string named, parameter(tokens, at));
      like += named;
    } else {
      like += tokens[at].text;
    }
    return at_is(tokens, at + 1, "ESCAPE") ? like : like + " ESCAPE ''";
  }
  if (next_is(1, "(")) {
    static const std::map<std::string_view, std::string_view> functions = {
        {"instr", "strpos"}, {"char", "chr"}, {"ifnull", "coalesce"}};
    if (const auto known = functions.find(text); known != functions.end())
      return std::string(known->second);
  }
  if (std::find(reserved.begin(), reserved.end(), text) != reserved.end()) return '"' + text + '"';
  return text;
}

Result<std::string> Translation::piece(Tokens tokens, bool defines) {
  std::string sql;
  for (std::size_t i = 0; i < tokens.size(); ++i) {
    std::string next = tokens[i].text;
    if (tokens[i].kind == Token::Kind::parameter) {
      COPUNCTAL_TRY(next, parameter(tokens, i));
    } else if (tokens[i].kind == Token::Kind::word) {
      COPUNCTAL_TRY(next, word(tokens, i, defines));
    } else if (next == "==") {
      next = "=";
    }
    const bool is_joined = sql.empty() || next == "." || sql.back() == '.';
    sql += (is_joined ? "" : " ") + next;
  }
  return sql;
}

// A statement of a trigger's body, in PostgreSQL's procedural language.
Result<std::string> Translation::in_trigger(Tokens tokens) {
  const bool raises = tokens.size() >= 7 && tokens[0].is("SELECT") && tokens[1].is("raise");
  if (!raises) return piece(tokens, false);
  if (!tokens[3].is("ABORT") || tokens[5].kind != Token::Kind::text)
    return cannot_translate("raise() other than raise(ABORT, '...')");
  const std::string raising = "RAISE EXCEPTION USING MESSAGE = " + tokens[5].text +
                              ", ERRCODE = 'integrity_constraint_violation'";
  if (tokens.size() == 7) return raising;
  COPUNCTAL_TRY(const std::string rest, piece(tokens.subspan(7), false));
  return "IF EXISTS (SELECT 1 " + rest + ") THEN " + raising + "; END IF";
}

// CREATE TRIGGER name BEFORE|AFTER event ON table [FOR EACH ROW] [WHEN condition] BEGIN ... END:
// there a function of that name and a trigger that calls it, the condition within the function.
Result<std::string> Translation::trigger(Tokens tokens) {
  const auto find = [&](std::string_view wanted, std::size_t from) {
    while (from < tokens.size() && !tokens[from].is(wanted)) ++from;
    return from;
  };
  const std::size_t on = find("ON", 0), begin = find("BEGIN", on);
  if (on < 5 || on + 1 >= begin || begin >= tokens.size() || !tokens.back().is("END"))
    return cannot_translate("a trigger that is none");
  COPUNCTAL_TRY(const std::string name, piece(tokens.subspan(2, 1), false));
  COPUNCTAL_TRY(const std::string when, piece(tokens.subspan(3, on - 3), false));
  COPUNCTAL_TRY(const std::string table, piece(tokens.subspan(on + 1, 1), false));
  std::string body;
  if (const std::size_t condition = find("WHEN", on); condition < begin) {
    COPUNCTAL_TRY(const std::string is_so,
                  piece(tokens.subspan(condition + 1, begin - condition - 1), false));
    body = "IF (" + is_so + ") IS NOT TRUE THEN RETURN coalesce(NEW, OLD); END IF; ";
  }
  for (const Tokens statement :
       statements_in(tokens.subspan(begin + 1, tokens.size() - begin - 2))) {
    COPUNCTAL_TRY(const std::string done, in_trigger(statement));
    body += done + "; ";
  }
  return "CREATE OR REPLACE FUNCTION " + name +
         "() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $body$ BEGIN " +
         body + "RETURN coalesce(NEW, OLD); END $body$;\nCREATE TRIGGER " + name + " " + when +
         " ON " + table + " FOR EACH ROW EXECUTE FUNCTION " + name + "()";
}

Result<std::string> Translation::statement(Tokens tokens) {
  const auto is = [&](std::size_t at, std::string_view wanted) {
    return at_is(tokens, at, wanted);
  };
  if (is(0, "BEGIN")) return "BEGIN";  // IMMEDIATE or not
  if (is(0, "CREATE") && is(1, "TRIGGER")) return trigger(tokens);
  if (is(0, "DROP") && is(1, "TRIGGER")) {
    COPUNCTAL_TRY(const std::string name, piece(tokens.subspan(2), false));
    return "DROP FUNCTION " + name + "() CASCADE";
  }
  if (is(0, "INSERT") && is(1, "OR") && is(2, "IGNORE")) {
    COPUNCTAL_TRY(const std::string rest, piece(tokens.subspan(3), false));
    return "INSERT " + rest + " ON CONFLICT DO NOTHING";
  }
  const bool creates = is(0, "CREATE") && is(1, "TABLE");
  if (creates)
    while (tokens.back().is("STRICT") || tokens.back().is(",") || tokens.back().is("ROWID") ||
           tokens.back().is("WITHOUT"))
      tokens = tokens.first(tokens.size() - 1);
  return piece(tokens, creates || (is(0, "ALTER") && is(1, "TABLE")));
}

}  // namespace

Result<PostgresSql> postgres_from(std::string_view sql) {
  const std::vector<Token> tokens = tokens_in(sql);
  PostgresSql translated;
  for (const Tokens statement : statements_in(tokens)) {
    Translation translation(translated.parameters);
    COPUNCTAL_TRY(const std::string one, translation.statement(statement));
    translated.sql += (translated.sql.empty() ? "" : ";\n") + one;
  }
  return translated;
}

}  // namespace copunctal
