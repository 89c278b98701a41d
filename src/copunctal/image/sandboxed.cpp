#include "copunctal/image/sandboxed.h"

#include <array>
#include <cerrno>
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <system_error>
#include <utility>
#include <vector>

#include <fcntl.h>
#include <poll.h>
#include <spawn.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "copunctal/base/files.h"
#include "copunctal/image/picture_sink.h"
#include "copunctal/image/sandbox.h"
#include "copunctal/image/wire.h"

extern char** environ;  // NOLINT(readability-redundant-declaration): POSIX leaves it to the program

namespace copunctal {
namespace {

namespace fs = std::filesystem;

// A descriptor that closes itself.
class Descriptor {
 public:
  explicit Descriptor(int number = -1) : number_(number) {}
  Descriptor(Descriptor&& other) noexcept : number_(std::exchange(other.number_, -1)) {}
  Descriptor& operator=(Descriptor&& other) noexcept {
    std::swap(number_, other.number_);
    return *this;
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  ~Descriptor() { reset(); }
  void reset() {
    if (number_ >= 0) close(number_);
    number_ = -1;
  }
  int get() const { return number_; }

 private:
  int number_;
};

// The same under a number that no child's descriptor has, so that none is overwritten before it is
// handed over.
Descriptor out_of_the_way(const Descriptor& one) {
  constexpr int beyond = 16;
  return Descriptor(fcntl(one.get(), F_DUPFD_CLOEXEC, beyond));
}

// The memory rows come by.
class Slots {
 public:
  Slots() : file_(memfd_create("rows", MFD_CLOEXEC | MFD_ALLOW_SEALING)) {
    // Sealed: whoever shares it cannot take a part away under a reader.
    constexpr std::size_t bytes = wire_slots * wire_slot_bytes;
    if (file_.get() < 0 || ftruncate(file_.get(), bytes) != 0 ||
        fcntl(file_.get(), F_ADD_SEALS, F_SEAL_SHRINK | F_SEAL_GROW | F_SEAL_SEAL) != 0)
      return;
    void* at = mmap(nullptr, bytes, PROT_READ | PROT_WRITE, MAP_SHARED, file_.get(), 0);
    if (at != MAP_FAILED) at_ = static_cast<std::uint8_t*>(at);
  }
  Slots(Slots&& other) noexcept
      : file_(std::move(other.file_)), at_(std::exchange(other.at_, nullptr)) {}
  Slots& operator=(Slots&&) = delete;
  Slots(const Slots&) = delete;
  Slots& operator=(const Slots&) = delete;
  ~Slots() {
    if (at_ != nullptr) munmap(at_, wire_slots * wire_slot_bytes);
  }
  const Descriptor& descriptor() const { return file_; }
  bool is_good() const { return at_ != nullptr; }
  std::uint8_t* slot(std::size_t number) const { return at_ + number * wire_slot_bytes; }

 private:
  Descriptor file_;
  std::uint8_t* at_ = nullptr;
};

class Decoded : public PictureSource {
 public:
  Decoded(std::string name, int patience_ms, pid_t child, Descriptor from, Slots slots,
          Descriptor returns)
      : name_(std::move(name)),
        patience_ms_(patience_ms),
        child_(child),
        from_(std::move(from)),
        slots_(std::move(slots)),
        returns_(std::move(returns)) {}
  Decoded(const Decoded&) = delete;
  Decoded& operator=(const Decoded&) = delete;
  ~Decoded() override { end(true); }

  Result<void> open(const PictureLimits& limits) {
    WireHead head;
    COPUNCTAL_TRY_VOID(hear(&head, sizeof(head)));
    if (head.magic != WireHead::mark || head.text > most_wire_text) return nonsense();
    std::string text(head.text, '\0');
    COPUNCTAL_TRY_VOID(hear(text.data(), text.size()));
    if (head.refused != 0)
      return head.proof == Proof::all_bits
                 ? unreadable_picture(name_, without_name(text))
                 : fail(Error::Kind::unsupported, text, "sandbox", "",
                        "update the kernel, or read pictures you trust with --trusted");
    // Nothing of it is believed until it is within what was asked for.
    if (head.proof != Proof::all_bits)
      return fail(Error::Kind::unsupported,
                  "the program that reads pictures did not prove that it is locked up", "sandbox",
                  "", "build again, or read pictures you trust with --trusted");
    if (head.width > static_cast<std::uint32_t>(limits.side) ||
        head.height > static_cast<std::uint32_t>(limits.side))
      return nonsense();
    COPUNCTAL_TRY_VOID(check_limits(name_, head.width, head.height, limits));
    if ((head.bits != 8 && head.bits != 16) || head.has_alpha > 1 || head.orientation < 1 ||
        head.orientation > 8 || head.pages < 1 || head.pages > 100'000 ||
        head.format > static_cast<std::uint32_t>(PictureFormat::svg) || head.shared > 1)
      return nonsense();
    header_.format = static_cast<PictureFormat>(head.format);
    header_.width = static_cast<int>(head.width);
    header_.height = static_cast<int>(head.height);
    header_.bits = static_cast<int>(head.bits);
    header_.has_alpha = head.has_alpha == 1;
    header_.orientation = static_cast<int>(head.orientation);
    header_.pages = static_cast<int>(head.pages);
    header_.note = text;
    left_ = head.height;
    is_shared_ = head.shared == 1;
    if (is_shared_ && header_.stride() > wire_slot_bytes) return nonsense();
    return {};
  }

  Result<void> read(std::span<std::uint8_t> row) override {
    if (is_shared_) {
      COPUNCTAL_TRY(const auto rows, take(1));
      std::memcpy(row.data(), rows.data(), rows.size());
      return {};
    }
    COPUNCTAL_TRY_VOID(await_batch());
    COPUNCTAL_TRY_VOID(hear(row.data(), header_.stride()));
    used(1);
    return {};
  }
  // What lies in a slot may be anything, and the child may change it at any time: to whoever takes
  // it, it is codes, and any codes will do.
  Result<std::span<std::uint8_t>> take(std::size_t most) override {
    if (!is_shared_) return PictureSource::take(most);
    give_back();
    COPUNCTAL_TRY_VOID(await_batch());
    const std::size_t stride = header_.stride(), rows = std::min<std::size_t>(most, batch_);
    const std::span part(slots_.slot(slot_) + at_, rows * stride);
    at_ += part.size();
    used(rows);
    return part;
  }

 private:
  // The child knows the picture by a name of its own.
  static std::string without_name(const std::string& text) {
    constexpr std::string_view own = "picture: ";
    return text.starts_with(own) ? text.substr(own.size()) : text;
  }
  tl::unexpected<Error> nonsense() const {
    return unreadable_picture(name_, "made its decoder say nonsense");
  }
  Result<void> await_batch() {
    if (batch_ > 0) return {};
    std::uint32_t count = 0;
    COPUNCTAL_TRY_VOID(hear(&count, sizeof(count)));
    if (count == wire_damaged) {
      std::uint32_t length = 0;
      COPUNCTAL_TRY_VOID(hear(&length, sizeof(length)));
      if (length > most_wire_text) return nonsense();
      std::string why(length, '\0');
      COPUNCTAL_TRY_VOID(hear(why.data(), why.size()));
      return unreadable_picture(name_, without_name(why));
    }
    if (count == 0 || count > left_) return nonsense();
    if (is_shared_ && count > wire_slot_bytes / header_.stride()) return nonsense();
    batch_ = count;
    at_ = 0;
    return {};
  }
  void used(std::size_t rows) {
    batch_ -= rows;
    left_ -= rows;
    is_used_up_ = batch_ == 0;
    if (left_ == 0) end(false);
  }
  // The slot of before, when its last rows are done with.
  void give_back() {
    if (!std::exchange(is_used_up_, false)) return;
    slot_ = (slot_ + 1) % wire_slots;
    if (++to_give_back_ < wire_slots_at_once) return;
    to_give_back_ = 0;
    // A child that is gone shows when it is next heard.
    constexpr std::array<char, wire_slots_at_once> given_back{};
    send(returns_.get(), given_back.data(), given_back.size(), MSG_NOSIGNAL);
  }
  Result<void> hear(void* to, std::size_t count) {
    char* at = static_cast<char*>(to);
    while (count > 0) {
      pollfd waiting{from_.get(), POLLIN, 0};
      const int ready = poll(&waiting, 1, patience_ms_);
      if (ready < 0 && errno == EINTR) continue;
      if (ready == 0) {
        end(true);
        return unreadable_picture(name_, "takes too long to decode");
      }
      const ssize_t got = ::read(from_.get(), at, count);
      if (got < 0 && errno == EINTR) continue;
      if (got <= 0) return ended_early();
      at += got;
      count -= static_cast<std::size_t>(got);
    }
    return {};
  }
  tl::unexpected<Error> ended_early() {
    const int status = end(false);
    if (WIFSIGNALED(status) && (WTERMSIG(status) == SIGXCPU || WTERMSIG(status) == SIGKILL))
      return unreadable_picture(name_, "takes too long to decode");
    return unreadable_picture(name_, "needs more memory than is given, or ended its decoder");
  }
  int end(bool by_force) {
    int status = 0;
    if (child_ > 0) {
      if (by_force) kill(child_, SIGKILL);
      from_.reset();
      while (waitpid(child_, &status, 0) < 0 && errno == EINTR) continue;
      child_ = 0;
    }
    return status;
  }

  std::string name_;
  int patience_ms_;
  pid_t child_;
  Descriptor from_;
  Slots slots_;
  Descriptor returns_;
  std::size_t left_ = 0, batch_ = 0;  // rows
  bool is_shared_ = false, is_used_up_ = false;
  std::size_t slot_ = 0, at_ = 0, to_give_back_ = 0;
};

// The picture is the child's standard input; image/wire.h has its other descriptors.
Result<std::unique_ptr<PictureSource>> decoded_by_child(const fs::path& file, int descriptor,
                                                        bool is_svg, const OpenOptions& options,
                                                        std::uint64_t file_bytes) {
  std::error_code error;
  const fs::path here = fs::read_symlink("/proc/self/exe", error).parent_path();
  fs::path program = here / (is_svg ? "copunctal-paper" : "copunctal-decode");
  // Tests lie in folders of their own.
  if (const char* programs = std::getenv("COPUNCTAL_PROGRAMS"); programs != nullptr)
    program = fs::path(programs) / program.filename();
  if (error || !fs::exists(program, error))
    return fail(Error::Kind::io, "the program that reads pictures is missing: " + program.string(),
                program.filename(), program.string(), "build again: it belongs beside copunctal");
  std::array<int, 2> ends{};
  if (pipe2(ends.data(), O_CLOEXEC) != 0)
    return unreadable_picture(file.string(), std::generic_category().message(errno));
  Descriptor from(ends[0]), to(ends[1]);
  constexpr int pipe_bytes = 1 << 20;
  fcntl(ends[1], F_SETPIPE_SZ, pipe_bytes);
  Descriptor profile(memfd_create("profile", MFD_CLOEXEC));
  if (!options.target.empty()) {
    if (write(profile.get(), options.target.data(), options.target.size()) !=
        static_cast<ssize_t>(options.target.size()))
      return unreadable_picture(file.string(), std::generic_category().message(errno));
    lseek(profile.get(), 0, SEEK_SET);
  }
  Slots slots;
  std::array<int, 2> returns{};
  if (!slots.is_good() || socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, returns.data()) != 0)
    return unreadable_picture(file.string(), std::generic_category().message(errno));
  Descriptor ours(returns[0]), theirs(returns[1]);
  // A second for 10 megapixels of limit, ten at least; of SVG three: a drawing may take any time.
  constexpr std::int64_t pixels_a_second = 10'000'000;
  const std::int64_t seconds =
      is_svg ? 3 : std::max<std::int64_t>(10, options.limits.pixels / pixels_a_second);
  // What a whole frame of a format that cannot come in rows takes, and as much again.
  const std::uint64_t memory =
      (std::uint64_t{512} << 20) +
      (options.limits.pixels > limits_of_server.pixels
           ? 2 * std::min<std::uint64_t>(file_bytes, std::uint64_t{256} << 20)
           : 0);
  const std::array<std::string, 8> words = {
      program.string(),
      std::to_string(options.limits.pixels),
      std::to_string(options.limits.side),
      std::to_string(options.page),
      std::to_string(seconds),
      std::to_string(is_svg ? std::uint64_t{1} << 30 : memory),
      options.target.empty() ? "0" : "1",
      "picture"};
  std::vector<char*> arguments;
  arguments.push_back(const_cast<char*>(words[0].c_str()));
  if (is_svg) arguments.push_back(const_cast<char*>(words[7].c_str()));
  for (std::size_t i = 1; i < 7; ++i) arguments.push_back(const_cast<char*>(words[i].c_str()));
  arguments.push_back(nullptr);
  const std::array handed = {out_of_the_way(profile), out_of_the_way(slots.descriptor()),
                             out_of_the_way(theirs)};
  for (const Descriptor& one : handed)
    if (one.get() < 0)
      return unreadable_picture(file.string(), std::generic_category().message(errno));
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_adddup2(&actions, descriptor, STDIN_FILENO);
  posix_spawn_file_actions_adddup2(&actions, to.get(), STDOUT_FILENO);
  posix_spawn_file_actions_adddup2(&actions, handed[0].get(), wire_profile);
  posix_spawn_file_actions_adddup2(&actions, handed[1].get(), wire_memory);
  posix_spawn_file_actions_adddup2(&actions, handed[2].get(), wire_returns);
  // Nothing else of ours goes with it.
  posix_spawn_file_actions_addclosefrom_np(&actions, wire_returns + 1);
  pid_t child = 0;
  const int spawned =
      posix_spawn(&child, words[0].c_str(), &actions, nullptr, arguments.data(), environ);
  posix_spawn_file_actions_destroy(&actions);
  if (spawned != 0)
    return unreadable_picture(file.string(), std::generic_category().message(spawned));
  to.reset();
  auto source = std::make_unique<Decoded>(file.string(), options.patience_ms, child,
                                          std::move(from), std::move(slots), std::move(ours));
  COPUNCTAL_TRY_VOID(source->open(options.limits));
  return source;
}

// Keeps the file open for as long as its source lives.
class FromFile : public PictureSource {
 public:
  FromFile(File file, std::unique_ptr<PictureSource> inner)
      : file_(std::move(file)), inner_(std::move(inner)) {
    header_ = inner_->header();
  }
  Result<void> read(std::span<std::uint8_t> row) override { return inner_->read(row); }
  Result<std::span<std::uint8_t>> take(std::size_t most) override { return inner_->take(most); }

 private:
  File file_;
  std::unique_ptr<PictureSource> inner_;
};

// Rows that were all read and turned upright.
class Upright : public PictureSource {
 public:
  static Result<std::unique_ptr<PictureSource>> of(std::unique_ptr<PictureSource> inner) {
    auto turned = std::make_unique<Upright>();
    turned->header_ = inner->header();
    const std::size_t stride = turned->header_.stride();
    std::vector<std::uint8_t> rows(stride * static_cast<std::size_t>(turned->header_.height));
    for (std::size_t at = 0; at < rows.size(); at += stride)
      COPUNCTAL_TRY_VOID(inner->read({&rows[at], stride}));
    turned->rows_ = upright(rows, turned->header_);
    return turned;
  }
  Result<void> read(std::span<std::uint8_t> row) override {
    std::copy_n(rows_.begin() + static_cast<std::ptrdiff_t>(at_), row.size(), row.begin());
    at_ += row.size();
    return {};
  }

 private:
  std::vector<std::uint8_t> rows_;
  std::size_t at_ = 0;
};

}  // namespace

Result<std::unique_ptr<PictureSource>> turned_upright(std::unique_ptr<PictureSource> source) {
  if (source->header().orientation == 1) return source;
  return Upright::of(std::move(source));
}

Result<std::unique_ptr<PictureSource>> open_picture(const fs::path& path,
                                                    const OpenOptions& options) {
  File file(std::fopen(path.c_str(), "rbe"));
  if (!file) return unreadable_picture(path.string(), std::generic_category().message(errno));
  std::error_code error;
  if (fs::is_directory(path, error)) return unreadable_picture(path.string(), "is a directory");
  std::array<char, 64> first{};
  const std::size_t got = std::fread(first.data(), 1, first.size(), file.get());
  if (std::ferror(file.get()) != 0)
    return unreadable_picture(path.string(), std::generic_category().message(errno));
  COPUNCTAL_TRY(const PictureFormat format, format_of({first.data(), got}, path.string()));
  std::rewind(file.get());
  const bool is_svg = format == PictureFormat::svg;
  if (is_svg || !options.trusted) {
    lseek(fileno(file.get()), 0, SEEK_SET);
    const auto bytes = fs::file_size(path, error);
    return decoded_by_child(path, fileno(file.get()), is_svg, options, error ? 0 : bytes);
  }
  COPUNCTAL_TRY(auto source,
                decode_picture(file.get(), path.string(), options.limits, options.page));
  if (!options.target.empty()) {
    COPUNCTAL_TRY(source, in_profile(std::move(source), options.target));
  }
  return std::make_unique<FromFile>(std::move(file), std::move(source));
}

Result<Picture> read_picture(const fs::path& file, const OpenOptions& options) {
  COPUNCTAL_TRY(const auto source, open_picture(file, options));
  return whole_picture(*source);
}

Result<Picture> whole_picture(PictureSource& source) {
  PictureHeader header = source.header();
  std::vector<std::uint8_t> row(header.stride());
  Picture picture(header.width, header.height);
  std::size_t at = 0;
  for (int y = 0; y < header.height; ++y) {
    COPUNCTAL_TRY_VOID(source.read(row));
    plain_row(row, header, 3, {&picture.rgb[at], 3 * static_cast<std::size_t>(header.width)});
    at += 3 * static_cast<std::size_t>(header.width);
  }
  if (header.orientation == 1) return picture;
  header.bits = 8;
  header.has_alpha = false;
  picture.rgb = upright(picture.rgb, header);
  picture.width = header.width;
  picture.height = header.height;
  return picture;
}

OpenOptions options_of_server(std::string target) {
  return {.limits = limits_of_server, .target = std::move(target), .patience_ms = 10'000};
}

}  // namespace copunctal
