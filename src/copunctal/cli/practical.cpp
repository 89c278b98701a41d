// `practical`: what is kept, carried out and in, removed, copied, and the log of it.
#include <filesystem>

#include <nlohmann/json.hpp>

#include "copunctal/app/debrief.h"
#include "copunctal/app/practical_tables.h"
#include "copunctal/app/run_sitting.h"
#include "copunctal/base/files.h"
#include "copunctal/base/text.h"
#include "copunctal/cli/commands.h"
#include "copunctal/cli/output.h"
#include "copunctal/store/data_keeper.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

int ended(const Result<void>& result) {
  return result ? 0 : failed(result.error());
}

Result<DataKeeper> beside(const PracticalOptions& options) {
  if (!options.database.empty())
    return DataKeeper::connected(options.database, system_clocks().utc);
  COPUNCTAL_TRY(const std::string data, data_directory(options.data));
  return DataKeeper::beside(data, system_clocks().utc);
}

Result<DataKeeper> alone(const PracticalOptions& options) {
  if (!options.database.empty())
    return DataKeeper::connected(options.database, system_clocks().utc);
  COPUNCTAL_TRY(const std::string data, data_directory(options.data));
  return DataKeeper::alone(data, system_clocks().utc);
}

Result<void> is_a_file(const PracticalOptions& options, const std::string& tool) {
  if (options.database.empty()) return {};
  return fail(Error::Kind::usage, "practicals in a PostgreSQL database are copied by PostgreSQL",
              "database", "", "use " + tool + ", or `practical export` for one practical");
}

void report(const PracticalOptions& options, Json json, const std::string& words) {
  if (!options.json) return print(words + "\n" + std::string(intended_use()) + "\n");
  json["intended_use"] = intended_use();
  print(json.dump(1) + "\n");
}

std::string in_words(const RowCounts& counts) {
  std::vector<std::string> words;
  for (const auto& [table, count] : counts)
    if (count > 0) words.push_back(table + " " + std::to_string(count));
  return words.empty() ? "nothing" : joined(words, ", ");
}

Result<void> list(const PracticalOptions& options) {
  COPUNCTAL_TRY(DataKeeper keeper, beside(options));
  COPUNCTAL_TRY(const auto practicals, keeper.practicals());
  Json all = Json::array();
  std::vector<std::string> lines;
  for (const PracticalRecord& one : practicals) {
    all.push_back({{"id", one.id},
                   {"name", one.name},
                   {"created_utc", one.created_utc},
                   {"display", one.display},
                   {"set_hash", one.set_hash},
                   {"plates", one.plates},
                   {"sittings", one.sittings},
                   {"state", one.state},
                   {"course", one.course},
                   {"group", one.group},
                   {"keep_until", one.keep_until ? Json(*one.keep_until) : Json(nullptr)}});
    lines.push_back(one.id + "  " + one.created_utc + "  " + std::to_string(one.sittings) +
                    " sittings  " + one.state + "  " + one.name +
                    (one.keep_until ? "  (kept until " + *one.keep_until + ")" : ""));
  }
  report(options, {{"practicals", all}},
         lines.empty() ? "No practicals are kept." : joined(lines, "\n"));
  return {};
}

Result<void> write_tables(const std::vector<KeptTable>& tables, const fs::path& data,
                          const fs::path& directory) {
  std::string hash;
  for (const KeptTable& table : tables)
    for (std::size_t i = 0; i < table.columns.size() && table.name == "practicals"; ++i)
      if (table.columns[i].name == "set_hash" && !table.rows.empty())
        hash = table.rows[0][i].value_or("");
  return write_directory(directory, [&](const fs::path& draft) -> Result<void> {
    for (const auto& [name, text] : csv_files_of(tables, set_of_hash(data, hash)))
      COPUNCTAL_TRY_VOID(write_file(text, draft / name));
    return {};
  });
}

Result<void> carry_out(const PracticalOptions& options) {
  if (options.out.empty() && options.csv.empty())
    return fail(Error::Kind::usage, "nothing says where to write", "file", "",
                "name a file with -o, or a directory with --csv");
  if (!options.out.empty()) COPUNCTAL_TRY_VOID(is_free(options.out, options.force));
  if (!options.csv.empty()) COPUNCTAL_TRY_VOID(check_target(options.csv));
  COPUNCTAL_TRY(DataKeeper keeper, beside(options));
  std::vector<std::string> written;
  if (!options.out.empty()) {
    COPUNCTAL_TRY(const std::string text, keeper.exported(options.id, intended_use()));
    COPUNCTAL_TRY_VOID(write_whole(text, options.out));
    written.push_back(options.out);
  }
  if (!options.csv.empty()) {
    COPUNCTAL_TRY(const std::string data, data_directory(options.data));
    COPUNCTAL_TRY(const auto tables, keeper.exported_tables(options.id));
    COPUNCTAL_TRY_VOID(write_tables(tables, data, options.csv));
    written.push_back(options.csv);
  }
  report(options, {{"practical", options.id}, {"written", written}},
         "Wrote " + joined(written, " and ") + ". It holds people's answers: keep it as safe.");
  return {};
}

Result<void> bring_in(const PracticalOptions& options) {
  COPUNCTAL_TRY(const std::string text, read_file(options.file));
  const auto import = [&]() -> Result<ImportReport> {
    const auto utc = system_clocks().utc;
    if (!options.database.empty())
      return import_into_database(options.database, text, options.file, utc);
    COPUNCTAL_TRY(const std::string data, data_directory(options.data));
    return import_practical(data, text, options.file, utc);
  };
  COPUNCTAL_TRY(const ImportReport done, import());
  report(options, {{"practical", done.practical}, {"added", done.added}},
         done.added.empty() ? "All of practical " + done.practical + " was there already."
                            : "Added practical " + done.practical + ": " + in_words(done.added));
  return {};
}

Result<void> remove(const PracticalOptions& options) {
  COPUNCTAL_TRY(const std::string data, data_directory(options.data));
  const std::optional<std::string_view> sitting =
      options.sitting.empty() ? std::nullopt : std::optional<std::string_view>(options.sitting);
  if (!options.yes) {
    COPUNCTAL_TRY(DataKeeper keeper, beside(options));
    COPUNCTAL_TRY(const RowCounts counts, keeper.count(options.id, sitting));
    return fail(Error::Kind::usage, "this would remove for good: " + in_words(counts), "practical",
                options.id, "add --yes to do it; there is no way back but a backup");
  }
  COPUNCTAL_TRY(DataKeeper keeper, alone(options));
  COPUNCTAL_TRY(const RemovalReport done, keeper.remove(options.id, sitting));
  std::vector<std::string> backups;
  for (const fs::path& backup : done.backups) backups.push_back(backup.string());
  std::string words = "Removed for good: " + in_words(done.removed) + ".\n";
  if (!options.database.empty())
    words += "PostgreSQL's log, its archive and backups of the database may still hold it.";
  else
    words += backups.empty()
                 ? "No backup in " + (fs::path(data) / "backups").string() + " holds it."
                 : "These backups still hold it; remove them too where it must be gone:\n  " +
                       joined(backups, "\n  ");
  words += "\nFiles exported before, and backups kept elsewhere, are not known here.";
  report(options, {{"removed", done.removed}, {"backups", backups}}, words);
  return {};
}

// What a later --verify --head can be given.
std::string head_in_words(const LogRead& log) {
  return "Log head: " + log.head_sha256 + " (row " + std::to_string(log.head_number) + ")";
}

Result<void> back_up(const PracticalOptions& options) {
  COPUNCTAL_TRY_VOID(is_a_file(options, "`pg_dump --schema=copunctal`"));
  COPUNCTAL_TRY(DataKeeper keeper, beside(options));
  COPUNCTAL_TRY(
      const fs::path name,
      keeper.back_up(options.out.empty() ? std::nullopt : std::optional<fs::path>(options.out),
                     options.force));
  COPUNCTAL_TRY(const LogRead log, keeper.log());
  report(options, {{"backup", name.string()}, {"log_head", log.head_sha256}},
         "Wrote " + name.string() + ". It holds people's answers: keep it as safe.\n" +
             head_in_words(log));
  return {};
}

Result<void> restore(const PracticalOptions& options) {
  COPUNCTAL_TRY_VOID(is_a_file(options, "`pg_restore`"));
  COPUNCTAL_TRY(const std::string data, data_directory(options.data));
  COPUNCTAL_TRY(const RestoreReport done, restore_backup(data, options.file, system_clocks().utc));
  const auto or_null = [](const fs::path& path) {
    return path.empty() ? Json() : Json(path.string());
  };
  report(
      options,
      {{"restored", options.file},
       {"before", or_null(done.before)},
       {"damaged", or_null(done.damaged)}},
      "Restored " + options.file + "." +
          (done.before.empty() ? "" : "\nWhat was there is kept in " + done.before.string()) +
          (done.damaged.empty() ? ""
                                : "\nThe damaged file was put aside as " + done.damaged.string()));
  return {};
}

Result<int> show_log(const PracticalOptions& options) {
  if (!options.head.empty() && !options.verify)
    return fail(Error::Kind::usage, "--head goes with --verify", "log", "", "add --verify");
  COPUNCTAL_TRY(DataKeeper keeper, beside(options));
  COPUNCTAL_TRY(const LogRead log, keeper.log());
  Json rows = Json::array();
  std::vector<std::string> lines;
  for (const LogEntry& entry : log.entries) {
    rows.push_back({{"number", entry.number},
                    {"at_utc", entry.at_utc},
                    {"event", entry.event},
                    {"subject", entry.subject},
                    {"details", entry.details},
                    {"sha256", entry.sha256}});
    std::string line = std::to_string(entry.number) + "  " + entry.at_utc + "  " + entry.event;
    for (const std::string& more : {entry.subject, entry.details})
      if (!more.empty()) line += "  " + more;
    lines.push_back(std::move(line));
  }
  const auto broken = options.verify ? break_in(log, options.head) : std::nullopt;
  lines.push_back(head_in_words(log));
  Json json = {{"entries", rows}, {"head_number", log.head_number}, {"head", log.head_sha256}};
  if (options.verify) {
    lines.push_back(broken ? "The log was tampered with: " + *broken
                           : std::string("The chain holds from the first row to the last."));
    json["holds"] = !broken;
    json["broken"] = broken ? Json(*broken) : Json();
  }
  report(options, std::move(json), joined(lines, "\n"));
  return broken ? 1 : 0;
}

}  // namespace

int practical_list(const PracticalOptions& options) {
  return ended(list(options));
}
int practical_export(const PracticalOptions& options) {
  return ended(carry_out(options));
}
int practical_import(const PracticalOptions& options) {
  return ended(bring_in(options));
}
int practical_delete(const PracticalOptions& options) {
  return ended(remove(options));
}
int practical_backup(const PracticalOptions& options) {
  return ended(back_up(options));
}
int practical_restore(const PracticalOptions& options) {
  return ended(restore(options));
}
int practical_log(const PracticalOptions& options) {
  const auto code = show_log(options);
  return code ? *code : failed(code.error());
}

}  // namespace copunctal
