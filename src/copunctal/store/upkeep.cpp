#include "copunctal/store/upkeep.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <system_error>

#include "copunctal/store/database.h"
#include "copunctal/store/migrations.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

tl::unexpected<Error> cannot_write(const fs::path& file, int number) {
  return fail(
      Error::Kind::io,
      file.string() + ": cannot be written (" + std::generic_category().message(number) + ")",
      "backup", file.string(), "name another place, on a disk with space");
}

Result<void> make_private_file(const fs::path& file) {
  const int handle =
      ::open(file.c_str(), O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, S_IRUSR | S_IWUSR);
  if (handle < 0) return cannot_write(file, errno);
  close(handle);
  return {};
}

Result<void> flush_file(const fs::path& file, int flags) {
  const int handle = ::open(file.c_str(), flags | O_CLOEXEC);
  if (handle < 0) return cannot_write(file, errno);
  const bool is_flushed = fsync(handle) == 0;
  const int number = errno;
  close(handle);
  if (!is_flushed) return cannot_write(file, number);
  return {};
}

fs::path directory_of(const fs::path& file) {
  return file.has_parent_path() ? file.parent_path() : fs::path(".");
}

// A copy that needs no second file beside it.
Result<void> copy_to_one_file(Database& database, const fs::path& draft, const fs::path& out) {
  COPUNCTAL_TRY_VOID(make_private_file(draft));
  COPUNCTAL_TRY(const auto copy, Database::open(draft));
  COPUNCTAL_TRY_VOID(database.copy_into(*copy));
  COPUNCTAL_TRY(const std::string mode, copy->text("PRAGMA journal_mode=DELETE"));
  if (mode != "delete")
    return fail(Error::Kind::io, out.string() + ": the copy cannot be made one file", "backup",
                out.string(), "choose a place on a local disk");
  return check_wholly(*copy, out.string());
}

}  // namespace

fs::path database_in(const fs::path& directory) {
  return directory / "copunctal.db";
}

fs::path backups_in(const fs::path& directory) {
  return directory / "backups";
}

void remove_database(const fs::path& file) {
  std::error_code ignored;
  for (const char* end : {"-wal", "-shm", "-journal", ""})
    fs::remove(fs::path(file.string() + end), ignored);
}

Result<void> flush_directory(const fs::path& directory) {
  return flush_file(directory, O_RDONLY | O_DIRECTORY);
}

Result<void> check_wholly(Database& database, const std::string& file) {
  const auto damaged = [&](const std::string& what) {
    return fail(Error::Kind::io, file + ": the database is damaged (" + what + ")", "database",
                file, "use another backup");
  };
  COPUNCTAL_TRY(const std::string said, database.text("PRAGMA integrity_check(1)"));
  if (said != "ok") return damaged(said);
  COPUNCTAL_TRY(Statement references, database.prepare("PRAGMA foreign_key_check"));
  COPUNCTAL_TRY(const bool has_row, references.step());
  if (has_row) return damaged("a row of " + references.text(0) + " refers to none");
  return {};
}

Result<void> write_backup(Database& database, const fs::path& out, bool force) {
  std::error_code error;
  if (!force && fs::exists(fs::symlink_status(out, error)))
    return fail(Error::Kind::bad_input, out.string() + ": exists already", "backup", out.string(),
                "choose another name, or add --force");
  const fs::path draft = out.string() + ".part";
  remove_database(draft);
  auto copied = copy_to_one_file(database, draft, out);
  if (copied) copied = flush_file(draft, O_RDWR);
  if (copied && ::rename(draft.c_str(), out.c_str()) != 0) copied = cannot_write(out, errno);
  if (!copied) {
    remove_database(draft);
    return copied;
  }
  return flush_directory(directory_of(out));
}

Result<fs::path> new_backup_name(const fs::path& directory, std::string_view kind,
                                 std::string_view now_utc) {
  const fs::path backups = backups_in(directory);
  if (mkdir(backups.c_str(), S_IRWXU) != 0 && errno != EEXIST) return cannot_write(backups, errno);
  std::string time(now_utc);
  std::replace(time.begin(), time.end(), ':', '-');
  const std::string stem = std::string(kind) + "-" + time;
  std::error_code error;
  fs::path name = backups / (stem + ".db");
  for (int i = 2; fs::exists(name, error); ++i)
    name = backups / (stem + "-" + std::to_string(i) + ".db");
  return name;
}

Result<fs::path> write_automatic_backup(Database& database, const fs::path& directory,
                                        std::string_view now_utc) {
  COPUNCTAL_TRY(const fs::path name, new_backup_name(directory, "automatic", now_utc));
  COPUNCTAL_TRY_VOID(write_backup(database, name, false));
  std::vector<fs::path> all;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(backups_in(directory), error))
    if (entry.path().filename().string().starts_with("automatic-") &&
        entry.path().extension() == ".db")
      all.push_back(entry.path());
  std::sort(all.begin(), all.end());  // by time: it stands in the name
  for (std::size_t i = 0; i + automatic_backups < all.size(); ++i)
    if (all[i] != name) fs::remove(all[i], error);
  return name;
}

Result<void> bring_up_to_date(Database& database, const fs::path& directory,
                              std::string_view now_utc) {
  const std::string file = database_in(directory).string();
  COPUNCTAL_TRY(const std::string said, database.text("PRAGMA quick_check(1)"));
  if (said != "ok")
    return fail(Error::Kind::io, file + ": the database is damaged (" + said + ")", "database",
                file, "restore a backup, or move the file away to begin afresh");
  COPUNCTAL_TRY(const SchemaMark mark, database.schema_mark());
  const auto newest = static_cast<std::int64_t>(all_migrations().size());
  if (mark.application == application_id && mark.version > 0 && mark.version < newest) {
    COPUNCTAL_TRY(const fs::path backup, write_automatic_backup(database, directory, now_utc));
    static_cast<void>(backup);
  }
  return migrate(database, now_utc, file);
}

}  // namespace copunctal
