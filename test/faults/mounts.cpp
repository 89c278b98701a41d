#include "faults/mounts.h"

#include <fcntl.h>
#include <sched.h>
#include <sys/ioctl.h>
#include <sys/mount.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <cstdint>
#include <fstream>
#include <stdexcept>
#include <system_error>
#include <vector>

namespace copunctal {
namespace {

constexpr std::uintmax_t image_size = std::uintmax_t{64} << 20;
/// EXT4_IOC_SHUTDOWN and its flag for a stop without flushing the journal; the kernel's headers for
/// programs do not carry them.
constexpr unsigned long ext4_shutdown = _IOR('X', 125, std::uint32_t);
constexpr std::uint32_t without_flushing_the_journal = 2;

std::runtime_error failure(const std::string& what) {
  return std::runtime_error(what + ": " + std::generic_category().message(errno));
}

void run(std::vector<std::string> words) {
  std::vector<char*> arguments;
  for (std::string& word : words) arguments.push_back(word.data());
  arguments.push_back(nullptr);
  const pid_t child = fork();
  if (child == 0) {
    execvp(arguments[0], arguments.data());
    _exit(127);
  }
  int status = 0;
  if (child < 0 || waitpid(child, &status, 0) != child || status != 0)
    throw std::runtime_error(words[0] + " failed");
}

void mount_memory(const std::filesystem::path& at, unsigned long flags, const std::string& size) {
  const std::string options = "size=" + size + ",mode=0700";
  if (::mount("tmpfs", at.c_str(), "tmpfs", flags, options.c_str()) != 0)
    throw failure("mount " + at.string());
}

}  // namespace

std::optional<std::string> take_own_mounts() {
  if (geteuid() != 0) return "only root may mount the file systems that this test needs";
  if (unshare(CLONE_NEWNS) != 0 || ::mount("none", "/", nullptr, MS_REC | MS_PRIVATE, nullptr) != 0)
    return "the system allows no table of mounts of our own, which this test needs";
  return std::nullopt;
}

MemoryDisk::MemoryDisk(std::filesystem::path at, const std::string& size) : at_(std::move(at)) {
  mount_memory(at_, 0, size);
}

MemoryDisk::~MemoryDisk() {
  umount2(at_.c_str(), MNT_DETACH);
}

void MemoryDisk::resize(const std::string& size) {
  mount_memory(at_, MS_REMOUNT, size);
}

FileDisk::FileDisk(std::filesystem::path image, std::filesystem::path at)
    : image_(std::move(image)), at_(std::move(at)) {
  std::ofstream(image_).close();
  std::filesystem::resize_file(image_, image_size);
  run({"mkfs.ext4", "-q", "-F", image_.string()});
  mount();
}

FileDisk::~FileDisk() {
  if (is_mounted_) umount2(at_.c_str(), MNT_DETACH);
}

void FileDisk::mount() {
  run({"mount", "-o", "loop", image_.string(), at_.string()});
  is_mounted_ = true;
}

bool FileDisk::cut_power() {
  const int handle = open(at_.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (handle < 0) return false;
  std::uint32_t flags = without_flushing_the_journal;
  const bool is_cut = ioctl(handle, ext4_shutdown, &flags) == 0;
  close(handle);
  return is_cut;
}

void FileDisk::restore() {
  if (umount2(at_.c_str(), 0) != 0) throw failure("unmount " + at_.string());
  is_mounted_ = false;
  mount();
}

}  // namespace copunctal
