#include "copunctal/base/files.h"

#include <array>
#include <cerrno>
#include <system_error>

#include <unistd.h>

namespace copunctal {
namespace {

std::string last_error() {
  return std::generic_category().message(errno);
}

}  // namespace

Result<std::string> read_file(const std::filesystem::path& path, std::size_t most_bytes) {
  const auto unreadable = [&](const std::string& why) {
    return fail(Error::Kind::bad_input, path.string() + ": " + why, "file", path.string(),
                "give a file that exists and can be read");
  };
  const File file(std::fopen(path.c_str(), "rb"));
  if (!file) return unreadable(last_error());
  std::string bytes;
  std::array<char, 65536> buffer{};
  while (const std::size_t got = std::fread(buffer.data(), 1, buffer.size(), file.get())) {
    bytes.append(buffer.data(), got);
    if (bytes.size() > most_bytes)
      return unreadable("larger than " + std::to_string(most_bytes) + " bytes");
  }
  if (std::ferror(file.get()) != 0) return unreadable(last_error());
  return bytes;
}

Result<void> write_file(std::string_view bytes, const std::filesystem::path& path) {
  const auto unwritable = [&] {
    return fail(Error::Kind::io, path.string() + ": cannot be written: " + last_error(), "file",
                path.string(), "choose a directory that exists, is writable and has space");
  };
  File file(std::fopen(path.c_str(), "wb"));
  if (!file) return unwritable();
  if (std::fwrite(bytes.data(), 1, bytes.size(), file.get()) != bytes.size() ||
      std::fflush(file.get()) != 0 || fsync(fileno(file.get())) != 0)
    return unwritable();
  if (std::fclose(file.release()) != 0) return unwritable();
  return {};
}

}  // namespace copunctal
