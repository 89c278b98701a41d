#include "copunctal/store/store.h"

#include <condition_variable>
#include <mutex>

#include "copunctal/store/data_directory.h"
#include "copunctal/store/database.h"
#include "copunctal/store/migrations.h"
#include "copunctal/store/upkeep.h"
#include "copunctal/store/writer.h"

namespace copunctal {
namespace {

/// The connections that read, each lent to one reader at a time.
class Readers {
 public:
  explicit Readers(std::vector<std::unique_ptr<Database>> all) : all_(std::move(all)) {
    for (const auto& one : all_) free_.push_back(one.get());
  }
  Database* take() {
    std::unique_lock lock(mutex_);
    came_back_.wait(lock, [this] { return !free_.empty(); });
    Database* one = free_.back();
    free_.pop_back();
    return one;
  }
  void give_back(Database* one) {
    {
      const std::lock_guard lock(mutex_);
      free_.push_back(one);
    }
    came_back_.notify_one();
  }

 private:
  std::vector<std::unique_ptr<Database>> all_;
  std::mutex mutex_;
  std::condition_variable came_back_;
  std::vector<Database*> free_;
};

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
  std::optional<DataDirectory> directory;  ///< Of a file.
  std::vector<std::string> notes;
  Readers readers;
  Writer writer;

  Inside(std::optional<DataDirectory> held, std::vector<std::unique_ptr<Database>> reading,
         std::unique_ptr<Database> writing)
      : directory(std::move(held)),
        notes(directory ? directory->notes() : std::vector<std::string>()),
        readers(std::move(reading)),
        writer(std::move(writing)) {}
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
  std::vector<std::unique_ptr<Database>> reading(1);
  COPUNCTAL_TRY(reading.front(), Database::open(file));
  return std::unique_ptr<Store>(
      new Store(std::make_unique<Inside>(std::move(held), std::move(reading), std::move(writing))));
}

Result<std::unique_ptr<Store>> Store::connect(const std::string& address,
                                              std::string_view now_utc) {
  COPUNCTAL_TRY(auto writing, Database::connect(address));
  COPUNCTAL_TRY_VOID(migrate(*writing, now_utc, writing->name()));
  COPUNCTAL_TRY_VOID(writing->check_rights());
  constexpr std::size_t readers = 4;  // each waits for the network
  std::vector<std::unique_ptr<Database>> reading(readers);
  for (auto& one : reading) {
    COPUNCTAL_TRY(one, Database::connect(address));
  }
  return std::unique_ptr<Store>(
      new Store(std::make_unique<Inside>(std::nullopt, std::move(reading), std::move(writing))));
}

const std::vector<std::string>& Store::notes() const {
  return inside_->notes;
}

std::int64_t Store::round_trips() const {
  return inside_->writer.round_trips();
}

void Store::submit(std::function<Result<void>(Changes&)> change,
                   std::function<void(Result<void>, std::exception_ptr)> done, ToRead to_read) {
  inside_->writer.submit({std::move(change), std::move(done), std::move(to_read)});
}

Result<void> Store::read_within(const std::function<void(const Records&)>& work) const {
  const auto give_back = [&](Database* database) { inside_->readers.give_back(database); };
  const std::unique_ptr<Database, decltype(give_back)> lent(inside_->readers.take(), give_back);
  if (auto begun = lent->begin_reading(); !begun) return begun;
  const ReadTransaction transaction(*lent);
  work(Records(*lent));
  return {};
}

}  // namespace copunctal
