#include <array>
#include <chrono>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include <fcntl.h>
#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>
#include <zlib.h>

#include "copunctal/base/files.h"
#include "copunctal/image/picture_sink.h"
#include "copunctal/image/sandbox.h"
#include "copunctal/image/wire.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

struct Ended {
  int code = -1;
  double seconds = 0, cpu_seconds = 0;
  long most_kib = 0;  // of the program and its decoder, the larger
  std::string said;
};

class Hostile : public testing::Test {
 protected:
  void SetUp() override {
    std::string pattern = (fs::temp_directory_path() / "copunctal-hostile-XXXXXX").string();
    ASSERT_NE(mkdtemp(pattern.data()), nullptr);
    directory = pattern;
  }
  void TearDown() override { fs::remove_all(directory); }

  // `copunctal view FILE`, as a person types it.
  Ended view(const fs::path& file, const std::vector<std::string>& more = {}) const {
    const std::string said = directory / "said", out = directory / "out.png";
    fs::remove(out);
    const auto begun = std::chrono::steady_clock::now();
    const pid_t child = fork();
    if (child == 0) {
      const int to = open(said.c_str(), O_CREAT | O_TRUNC | O_WRONLY, 0600);
      dup2(to, STDERR_FILENO);
      dup2(to, STDOUT_FILENO);
      std::vector<std::string> words = {COPUNCTAL_PROGRAM, "view", file.string(), "-o", out, "--as",
                                        "deutan:0"};
      words.insert(words.end(), more.begin(), more.end());
      std::vector<char*> arguments;
      for (std::string& word : words) arguments.push_back(word.data());
      arguments.push_back(nullptr);
      execv(arguments[0], arguments.data());
      _exit(127);
    }
    int status = 0;
    rusage used{};
    wait4(child, &status, 0, &used);
    Ended ended;
    ended.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
    ended.code = WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
    ended.cpu_seconds = static_cast<double>(used.ru_utime.tv_sec + used.ru_stime.tv_sec) +
                        1e-6 * static_cast<double>(used.ru_utime.tv_usec + used.ru_stime.tv_usec);
    ended.most_kib = used.ru_maxrss;
    ended.said = read_file(said).value_or("");
    if (ended.code != 0) {
      EXPECT_FALSE(fs::exists(out)) << file << ": something was left";
    }
    return ended;
  }

  void expect_survived(const fs::path& file, int code) const {
    const Ended ended = view(file);
    EXPECT_EQ(ended.code, code) << file << ": " << ended.said;
    EXPECT_LE(ended.most_kib, 512 * 1024) << file;
    EXPECT_LE(ended.seconds, 10) << file;
    if (code != 0) {
      EXPECT_NE(ended.said.find(file.filename()), std::string::npos) << ended.said;
    }
    std::printf("%-28s exit %d, %.2f s, %ld MiB\n", file.filename().c_str(), ended.code,
                ended.seconds, ended.most_kib / 1024);
  }

  fs::path directory;
};

TEST_F(Hostile, FilesAreRefusedOrSurvivedWithinMemoryAndTime) {
  int seen = 0;
  for (const auto& entry : fs::directory_iterator(COPUNCTAL_SOURCE_DIR "/test/hostile/data")) {
    const std::string name = entry.path().filename();
    // These two are harmless drawings: what they ask for is not done.
    expect_survived(entry.path(), name == "script.svg" || name == "href_file.svg" ? 0 : 3);
    ++seen;
  }
  EXPECT_GE(seen, 15);
}

std::string chunk(std::string_view type, const std::string& data) {
  const auto number = [](unsigned long v) {
    std::string bytes;
    for (int shift = 24; shift >= 0; shift -= 8) bytes += static_cast<char>(v >> shift & 255);
    return bytes;
  };
  const std::string body = std::string(type) + data;
  return number(data.size()) + body +
         number(
             crc32(0, reinterpret_cast<const Bytef*>(body.data()), static_cast<uInt>(body.size())));
}

std::string deflated_zeros(std::size_t count) {
  z_stream stream{};
  deflateInit(&stream, 1);
  std::vector<Bytef> zeros(1U << 20), out(1U << 20);
  std::string all;
  for (std::size_t left = count;; left -= std::min(left, zeros.size())) {
    stream.next_in = zeros.data();
    stream.avail_in = static_cast<uInt>(std::min(left, zeros.size()));
    const int how = left <= zeros.size() ? Z_FINISH : Z_NO_FLUSH;
    int state = Z_OK;
    do {
      stream.next_out = out.data();
      stream.avail_out = static_cast<uInt>(out.size());
      state = deflate(&stream, how);
      all.append(reinterpret_cast<const char*>(out.data()), out.size() - stream.avail_out);
    } while (stream.avail_out == 0);
    if (state == Z_STREAM_END) break;
  }
  deflateEnd(&stream);
  return all;
}

std::string head_of(unsigned width, unsigned height, char bits, char type) {
  std::string data;
  for (const unsigned v : {width, height})
    for (int shift = 24; shift >= 0; shift -= 8) data += static_cast<char>(v >> shift & 255);
  data += bits;
  data += type;
  data.append(3, '\0');
  return std::string("\x89PNG\r\n\x1a\n") + chunk("IHDR", data);
}

// Files too large to keep: made here.
TEST_F(Hostile, BombsAreRefusedOrSurvived) {
  using namespace std::string_literals;
  const auto made = [&](const char* name, const std::string& bytes) {
    std::ofstream(directory / name, std::ios::binary) << bytes;
    return directory / name;
  };
  const std::string pixel = chunk("IDAT", deflated_zeros(4)) + chunk("IEND", "");
  expect_survived(made("large.png", head_of(20000, 20000, 8, 2) + pixel), 3);
  std::string texts;
  const std::string eight_mib = "x\0\0"s + deflated_zeros(8U << 20);
  for (int i = 0; i < 200; ++i) texts += chunk("zTXt", eight_mib);
  expect_survived(made("texts.png", head_of(1, 1, 8, 2) + texts + pixel), 0);
  expect_survived(
      made("profile.png",
           head_of(1, 1, 8, 2) + chunk("iCCP", "x\0\0"s + deflated_zeros(1U << 30)) + pixel),
      0);
  // 160 megapixels of one colour in some kilobytes: within the command line's limit.
  const Ended large =
      view(made("even.png", head_of(16000, 10000, 1, 0) +
                                chunk("IDAT", deflated_zeros(10000 * 2001)) + chunk("IEND", "")));
  EXPECT_EQ(large.code, 0) << large.said;
  EXPECT_LE(large.most_kib, 512 * 1024);
}

// What the child cannot do, it says itself; and a parent believes nothing else.
TEST_F(Hostile, TheDecoderProvesThatItIsLockedUp) {
  PictureHeader header;
  header.width = header.height = 4;
  const fs::path picture = directory / "p.png";
  {
    const auto sink = open_sink(picture, header, {});
    const std::vector<std::uint8_t> row(12);
    for (int y = 0; y < 4; ++y) ASSERT_TRUE((*sink)->write(row).has_value());
    ASSERT_TRUE((*sink)->finish().has_value());
  }
  std::array<int, 2> ends{};
  ASSERT_EQ(pipe(ends.data()), 0);
  const pid_t child = fork();
  if (child == 0) {
    dup2(open(picture.c_str(), O_RDONLY), STDIN_FILENO);
    dup2(ends[1], STDOUT_FILENO);
    execl(COPUNCTAL_DECODE, COPUNCTAL_DECODE, "1000000", "10000", "0", "5", "536870912", "0",
          nullptr);
    _exit(127);
  }
  close(ends[1]);
  WireHead head;
  ASSERT_EQ(read(ends[0], &head, sizeof(head)), static_cast<ssize_t>(sizeof(head)));
  close(ends[0]);
  int status = 0;
  waitpid(child, &status, 0);
  EXPECT_EQ(head.magic, WireHead::mark);
  EXPECT_EQ(head.proof, Proof::all_bits) << "no file, no socket, no child";
  EXPECT_EQ(head.width, 4U);
}

TEST_F(Hostile, ADecoderThatLiesIsNotBelieved) {
  const fs::path picture = directory / "p.png";
  std::ofstream(picture, std::ios::binary) << head_of(4, 4, 8, 2);
  setenv("COPUNCTAL_PROGRAMS", COPUNCTAL_LIES, 1);
  const auto code_of = [&](const char* lie) {
    setenv("COPUNCTAL_LIE", lie, 1);
    const Ended ended = view(picture);
    std::printf("%-10s %s", lie, ended.said.c_str());
    return ended.code;
  };
  EXPECT_EQ(code_of("none"), 0) << "the control: without a lie its rows are taken";
  EXPECT_EQ(code_of("unproven"), 4);
  for (const char* lie : {"huge", "bits", "mark", "rows", "short", "crowded", "wide"})
    EXPECT_EQ(code_of(lie), 3) << lie;
  unsetenv("COPUNCTAL_PROGRAMS");
  unsetenv("COPUNCTAL_LIE");
}

}  // namespace
}  // namespace copunctal
