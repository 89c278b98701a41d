#include "copunctal/store/data_directory.h"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <system_error>

namespace copunctal {
namespace {

constexpr mode_t everybody_else = 0077;

std::string reason(int number) {
  return std::generic_category().message(number);
}

tl::unexpected<Error> cannot(const std::string& verb, const std::filesystem::path& what,
                             int number) {
  const std::string remedy = number == ENOSPC ? "free some space on the disk"
                                              : "choose a directory that you own and may write to";
  return fail(Error::Kind::io, what.string() + ": cannot " + verb + " (" + reason(number) + ")",
              "data directory", what.string(), remedy);
}

std::string process_id_in(int file) {
  std::array<char, 32> text{};
  const ssize_t size = pread(file, text.data(), text.size(), 0);
  std::string id(text.data(), size > 0 ? static_cast<std::size_t>(size) : 0);
  while (!id.empty() && id.back() == '\n') id.pop_back();
  return id.empty() ? "of unknown number" : id;
}

}  // namespace

Result<DataDirectory> DataDirectory::open(const std::filesystem::path& path) {
  DataDirectory directory(path);
  if (auto made = directory.make_private(); !made) return tl::unexpected(std::move(made).error());
  if (auto taken = directory.take_lock(); !taken) return tl::unexpected(std::move(taken).error());
  return directory;
}

DataDirectory::DataDirectory(DataDirectory&& other) noexcept
    : path_(std::move(other.path_)), notes_(std::move(other.notes_)), lock_(other.lock_) {
  other.lock_ = -1;
}

// The lock file stays: removing it would let two servers lock two different files of that name.
DataDirectory::~DataDirectory() {
  if (lock_ >= 0) close(lock_);
}

Result<void> DataDirectory::make_private() {
  std::error_code trouble;
  if (const auto parent = path_.parent_path(); !parent.empty()) {
    std::filesystem::create_directories(parent, trouble);
    if (trouble) return cannot("create the directory", parent, trouble.value());
  }
  if (mkdir(path_.c_str(), S_IRWXU) != 0 && errno != EEXIST)
    return cannot("create the directory", path_, errno);

  struct stat status {};
  if (stat(path_.c_str(), &status) != 0) return cannot("read the directory", path_, errno);
  if (!S_ISDIR(status.st_mode))
    return fail(Error::Kind::bad_input, path_.string() + ": this is not a directory",
                "data directory", path_.string(), "name a directory with --data");
  if ((status.st_mode & everybody_else) != 0) {
    if (chmod(path_.c_str(), S_IRWXU) != 0)
      return cannot("close the directory to other people", path_, errno);
    notes_.push_back(path_.string() + " was open to other people; it is now closed to them");
  }
  return {};
}

Result<void> DataDirectory::take_lock() {
  const auto file = path_ / "copunctal.lock";
  lock_ = ::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, S_IRUSR | S_IWUSR);
  if (lock_ < 0) return cannot("create the lock file", file, errno);
  if (flock(lock_, LOCK_EX | LOCK_NB) != 0) {
    if (errno != EWOULDBLOCK) return cannot("lock", file, errno);
    const std::string holder = process_id_in(lock_);
    return fail(
        Error::Kind::io,
        path_.string() + ": another Copunctal server uses this directory (process " + holder + ")",
        "data directory", path_.string(),
        "stop process " + holder + ", or name another directory with --data");
  }
  const std::string id = std::to_string(getpid()) + "\n";
  if (ftruncate(lock_, 0) != 0 ||
      pwrite(lock_, id.data(), id.size(), 0) != static_cast<ssize_t>(id.size()))
    return cannot("write the lock file", file, errno);
  return {};
}

Result<std::filesystem::path> DataDirectory::private_file(const std::string& name) {
  auto file = path_ / name;
  const int handle =
      ::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, S_IRUSR | S_IWUSR);
  if (handle < 0) return cannot("open", file, errno);
  struct stat status {};
  const bool is_read = fstat(handle, &status) == 0;
  const bool is_wide = is_read && (status.st_mode & everybody_else) != 0;
  const bool is_closed = !is_wide || fchmod(handle, S_IRUSR | S_IWUSR) == 0;
  const int number = errno;
  close(handle);
  if (!is_read || !is_closed) return cannot("close the file to other people", file, number);
  if (is_wide)
    notes_.push_back(file.string() + " was open to other people; it is now closed to them");
  return file;
}

Result<void> DataDirectory::flush() const {
  const int handle = ::open(path_.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (handle < 0) return cannot("read the directory", path_, errno);
  const bool is_flushed = fsync(handle) == 0;
  const int number = errno;
  close(handle);
  if (!is_flushed) return cannot("flush the directory", path_, number);
  return {};
}

}  // namespace copunctal
