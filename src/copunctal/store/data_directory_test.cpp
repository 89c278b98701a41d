#include "copunctal/store/data_directory.h"

#include <gtest/gtest.h>
#include <sys/mount.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <sched.h>

#include <fstream>

#include "copunctal/store/scratch_directory.h"

using namespace copunctal;
namespace fs = std::filesystem;

namespace {

unsigned mode_of(const fs::path& path) {
  struct stat status {};
  return stat(path.c_str(), &status) == 0 ? status.st_mode & 07777U : 0;
}

}  // namespace

TEST(DataDirectory, is_made_private_with_its_parents) {
  const ScratchDirectory scratch;
  const auto path = scratch.path() / "a" / "b" / "data";
  const auto directory = DataDirectory::open(path);
  ASSERT_TRUE(directory) << directory.error().message;
  EXPECT_EQ(mode_of(path), 0700U);
  EXPECT_EQ(mode_of(path / "copunctal.lock"), 0600U);
  EXPECT_TRUE(directory->notes().empty());
}

TEST(DataDirectory, closes_a_wide_directory_and_file_and_says_so) {
  const ScratchDirectory scratch;
  const auto path = scratch.path() / "data";
  fs::create_directory(path);
  fs::permissions(path, fs::perms{0755});
  std::ofstream(path / "copunctal.db").put('x');
  fs::permissions(path / "copunctal.db", fs::perms{0644});

  auto directory = DataDirectory::open(path);
  ASSERT_TRUE(directory) << directory.error().message;
  const auto file = directory->private_file("copunctal.db");
  ASSERT_TRUE(file) << file.error().message;
  EXPECT_EQ(mode_of(path), 0700U);
  EXPECT_EQ(mode_of(*file), 0600U);
  ASSERT_EQ(directory->notes().size(), 2U);
  EXPECT_NE(directory->notes()[0].find(path.string()), std::string::npos);
  EXPECT_NE(directory->notes()[1].find("copunctal.db"), std::string::npos);
}

TEST(DataDirectory, is_held_by_one_at_a_time_and_names_the_holder) {
  const ScratchDirectory scratch;
  {
    const auto first = DataDirectory::open(scratch.path());
    ASSERT_TRUE(first);
    const auto second = DataDirectory::open(scratch.path());
    ASSERT_FALSE(second);
    EXPECT_EQ(second.error().kind, Error::Kind::io);
    EXPECT_NE(second.error().message.find(std::to_string(getpid())), std::string::npos);
    EXPECT_NE(second.error().message.find(scratch.path().string()), std::string::npos);
    EXPECT_NE(second.error().remedy.find("--data"), std::string::npos);
  }
  EXPECT_TRUE(DataDirectory::open(scratch.path())) << "the lock must go with its holder";
}

TEST(DataDirectory, refuses_a_file_in_its_place) {
  const ScratchDirectory scratch;
  const auto path = scratch.path() / "file";
  std::ofstream(path).put('x');
  const auto directory = DataDirectory::open(path);
  ASSERT_FALSE(directory);
  EXPECT_EQ(directory.error().kind, Error::Kind::bad_input);
}

// A symbolic link in place of the database or the lock could lead a write elsewhere.
TEST(DataDirectory, follows_no_link_in_place_of_its_files) {
  const ScratchDirectory scratch;
  std::ofstream(scratch.path() / "elsewhere").put('x');
  fs::create_symlink(scratch.path() / "elsewhere", scratch.path() / "copunctal.db");
  auto directory = DataDirectory::open(scratch.path());
  ASSERT_TRUE(directory);
  const auto file = directory->private_file("copunctal.db");
  ASSERT_FALSE(file);
  EXPECT_EQ(file.error().kind, Error::Kind::io);
}

// Mode bits do not bind root, so the directory is made read-only by a mount that only the child
// process sees.
TEST(DataDirectory, that_is_read_only_is_named) {
  const ScratchDirectory scratch;
  const pid_t child = fork();
  if (child == 0) {
    if (unshare(CLONE_NEWNS) != 0 || mount("", "/", nullptr, MS_REC | MS_PRIVATE, nullptr) != 0 ||
        mount("scratch", scratch.path().c_str(), "tmpfs", MS_RDONLY, "mode=0700") != 0)
      _exit(77);
    const auto directory = DataDirectory::open(scratch.path());
    const bool is_named = !directory && directory.error().kind == Error::Kind::io &&
                          directory.error().message.find("Read-only") != std::string::npos &&
                          !directory.error().remedy.empty();
    _exit(is_named ? 0 : 1);
  }
  int status = 0;
  ASSERT_EQ(waitpid(child, &status, 0), child);
  ASSERT_TRUE(WIFEXITED(status));
  if (WEXITSTATUS(status) == 77) GTEST_SKIP() << "no mount namespace for this user";
  EXPECT_EQ(WEXITSTATUS(status), 0);
}
