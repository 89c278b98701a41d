// Looking after a database file: whether it is sound, copies of it, and bringing it up to date.
//
// Internal to store/.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "copunctal/base/result.h"

namespace copunctal {

class Database;

/// How many backups made by themselves are kept.
inline constexpr std::size_t automatic_backups = 10;

std::filesystem::path database_in(const std::filesystem::path& directory);
std::filesystem::path backups_in(const std::filesystem::path& directory);

/// Every page, every index and every reference. Error: io, in the name of `file`.
Result<void> check_wholly(Database& database, const std::string& file);

/// Copies a database, in use or not, into one file: written beside its name, checked wholly, on
/// stable storage before it takes the name. Errors: bad_input when `out` exists and may not be
/// replaced; io.
Result<void> write_backup(Database& database, const std::filesystem::path& out, bool force);

/// The next free DIR/backups/KIND-TIME.db; makes the directory, for its owner alone. Error: io.
Result<std::filesystem::path> new_backup_name(const std::filesystem::path& directory,
                                              std::string_view kind, std::string_view now_utc);

/// write_backup() as DIR/backups/automatic-TIME.db; of those the newest are kept.
Result<std::filesystem::path> write_automatic_backup(Database& database,
                                                     const std::filesystem::path& directory,
                                                     std::string_view now_utc);

/// Checks the file and takes what steps its schema lacks, after a backup where it had one already.
/// Errors: as migrate(), and io for a damaged file or a backup that cannot be written.
Result<void> bring_up_to_date(Database& database, const std::filesystem::path& directory,
                              std::string_view now_utc);

/// Removes a database file with what SQLite keeps beside it.
void remove_database(const std::filesystem::path& file);

/// Makes the names in a directory survive a power cut. Error: io.
Result<void> flush_directory(const std::filesystem::path& directory);

}  // namespace copunctal
