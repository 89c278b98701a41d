#include "copunctal/store/store.h"

#include <mutex>

#include "copunctal/store/data_directory.h"
#include "copunctal/store/database.h"
#include "copunctal/store/upkeep.h"
#include "copunctal/store/writer.h"

namespace copunctal {
namespace {

/// Closes the read transaction whatever happens inside it.
class ReadTransaction {
 public:
  explicit ReadTransaction(Database& database) : database_(database) {}
  ReadTransaction(const ReadTransaction&) = delete;
  ReadTransaction& operator=(const ReadTransaction&) = delete;
  ~ReadTransaction() { (void)database_.run("COMMIT"); }

 private:
  Database& database_;
};

}  // namespace

// Members are closed from the last to the first: the writer before the readers' connection, the
// lock on the directory after both.
struct Store::Inside {
  DataDirectory directory;
  std::mutex reading;
  std::unique_ptr<Database> reader;
  std::unique_ptr<Writer> writer;
};

Store::Store(std::unique_ptr<Inside> inside) : inside_(std::move(inside)) {}
Store::~Store() = default;

Result<std::unique_ptr<Store>> Store::open(const std::filesystem::path& directory,
                                           std::string_view now_utc) {
  COPUNCTAL_TRY(DataDirectory held, DataDirectory::open(directory));
  // Made and closed before SQLite opens it: closing any handle on the file drops SQLite's locks.
  COPUNCTAL_TRY(const auto file, held.private_file("copunctal.db"));

  COPUNCTAL_TRY(auto writing, Database::open(file));
  if (auto current = bring_up_to_date(*writing, held.path(), now_utc); !current)
    return tl::unexpected(std::move(current).error());
  if (auto flushed = held.flush(); !flushed) return tl::unexpected(std::move(flushed).error());
  COPUNCTAL_TRY(auto reading, Database::open(file));

  std::unique_ptr<Inside> inside(new Inside{std::move(held), {}, std::move(reading), nullptr});
  inside->writer = std::make_unique<Writer>(std::move(writing));
  return std::unique_ptr<Store>(new Store(std::move(inside)));
}

const std::vector<std::string>& Store::notes() const {
  return inside_->directory.notes();
}

void Store::submit(std::function<Result<void>(Changes&)> change,
                   std::function<void(Result<void>, std::exception_ptr)> done) {
  inside_->writer->submit({std::move(change), std::move(done)});
}

Result<void> Store::read_within(const std::function<void(const Records&)>& work) const {
  const std::lock_guard lock(inside_->reading);
  if (auto begun = inside_->reader->run("BEGIN"); !begun) return begun;
  const ReadTransaction transaction(*inside_->reader);
  work(Records(*inside_->reader));
  return {};
}

}  // namespace copunctal
