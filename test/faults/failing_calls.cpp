// Loaded before the server's libraries: lets the k-th call that writes to its files fail.
//
//   COPUNCTAL_FAIL_AT=k COPUNCTAL_FAIL_WITH=errno COPUNCTAL_FAIL_EVER=0|1 COPUNCTAL_FAIL_MARK=FILE
//
// Counted are write, pwrite, ftruncate, fsync and fdatasync on files whose names begin with
// "copunctal.". With EVER every later one fails as well. The file MARK is made when one has failed.
#include <dlfcn.h>
#include <fcntl.h>
#include <sys/types.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <cerrno>
#include <cstdlib>
#include <string>
#include <string_view>

namespace {

long number_in(const char* name) {
  const char* text = std::getenv(name);
  return text == nullptr ? 0 : std::strtol(text, nullptr, 10);
}

bool is_ours(int file) {
  std::array<char, 4096> target{};
  const std::string link = "/proc/self/fd/" + std::to_string(file);
  const ssize_t size = readlink(link.c_str(), target.data(), target.size());
  return size > 0 &&
         std::string_view(target.data(), static_cast<std::size_t>(size)).find("/copunctal.") !=
             std::string_view::npos;
}

/// Whether this call fails; errno then says why.
bool fails(int file) {
  static const long at = number_in("COPUNCTAL_FAIL_AT"), with = number_in("COPUNCTAL_FAIL_WITH");
  static const bool for_ever = number_in("COPUNCTAL_FAIL_EVER") != 0;
  static std::atomic<long> calls = 0;
  if (at == 0 || !is_ours(file)) return false;
  const long call = ++calls;
  if (call != at && !(for_ever && call > at)) return false;
  if (const char* mark = std::getenv("COPUNCTAL_FAIL_MARK"))
    close(open(mark, O_WRONLY | O_CREAT | O_CLOEXEC, 0600));
  errno = static_cast<int>(with);
  return true;
}

template <class Call>
Call real(const char* name) {
  return reinterpret_cast<Call>(dlsym(RTLD_NEXT, name));
}

}  // namespace

extern "C" {

ssize_t write(int file, const void* bytes, size_t size) {
  static const auto call = real<ssize_t (*)(int, const void*, size_t)>("write");
  return fails(file) ? -1 : call(file, bytes, size);
}

ssize_t pwrite(int file, const void* bytes, size_t size, off_t at) {
  static const auto call = real<ssize_t (*)(int, const void*, size_t, off_t)>("pwrite");
  return fails(file) ? -1 : call(file, bytes, size, at);
}

ssize_t pwrite64(int file, const void* bytes, size_t size, off64_t at) {
  static const auto call = real<ssize_t (*)(int, const void*, size_t, off64_t)>("pwrite64");
  return fails(file) ? -1 : call(file, bytes, size, at);
}

int ftruncate(int file, off_t size) noexcept {
  static const auto call = real<int (*)(int, off_t)>("ftruncate");
  return fails(file) ? -1 : call(file, size);
}

int ftruncate64(int file, off64_t size) noexcept {
  static const auto call = real<int (*)(int, off64_t)>("ftruncate64");
  return fails(file) ? -1 : call(file, size);
}

int fsync(int file) {
  static const auto call = real<int (*)(int)>("fsync");
  return fails(file) ? -1 : call(file);
}

int fdatasync(int file) {
  static const auto call = real<int (*)(int)>("fdatasync");
  return fails(file) ? -1 : call(file);
}

}  // extern "C"
