#include "copunctal/image/decode_worker.h"

#include <algorithm>
#include <array>
#include <cerrno>
#include <csignal>
#include <string>
#include <vector>

#include <sys/mman.h>
#include <unistd.h>

#include "copunctal/base/text.h"
#include "copunctal/image/wire.h"

namespace copunctal {
namespace {

bool say(const void* bytes, std::size_t count) {
  const char* at = static_cast<const char*>(bytes);
  while (count > 0) {
    const ssize_t wrote = write(STDOUT_FILENO, at, count);
    if (wrote < 0 && errno == EINTR) continue;
    if (wrote <= 0) return false;
    at += wrote;
    count -= static_cast<std::size_t>(wrote);
  }
  return true;
}

// One line, and no control characters: it ends on a terminal.
std::string short_of(std::string text) {
  text.resize(std::min<std::size_t>(text.size(), most_wire_text));
  while (!text.empty() && (text.back() == '\n' || text.back() == ' ')) text.pop_back();
  for (char& c : text)
    if (static_cast<unsigned char>(c) < ' ' || c == '\x7f') c = ' ';
  return text;
}

int refuse(WireHead head, const Error& error) {
  const std::string text = short_of(error.message);
  head.refused = 1;
  head.text = static_cast<std::uint32_t>(text.size());
  say(&head, sizeof(head));
  say(text.data(), text.size());
  return 3;
}

std::string all_of(int descriptor) {
  std::string bytes;
  std::vector<char> block(1U << 16);
  for (;;) {
    const ssize_t got = read(descriptor, block.data(), block.size());
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) return bytes;
    bytes.append(block.data(), static_cast<std::size_t>(got));
  }
}

// Where rows are put before they are sent.
class Outbox {
 public:
  // Memory shared with the reader is there before anything is locked up.
  Outbox() {
    void* at = mmap(nullptr, wire_slots * wire_slot_bytes, PROT_READ | PROT_WRITE, MAP_SHARED,
                    wire_memory, 0);
    if (at != MAP_FAILED) shared_ = static_cast<std::uint8_t*>(at);
  }
  Outbox(const Outbox&) = delete;
  Outbox& operator=(const Outbox&) = delete;
  ~Outbox() {
    if (shared_ != nullptr) munmap(shared_, wire_slots * wire_slot_bytes);
  }

  /// How many rows fit at once; whether they are shared is settled from here on.
  std::size_t begin(std::size_t stride) {
    if (stride > wire_slot_bytes || shared_ == nullptr) {
      is_shared_ = false;
      own_.resize(std::max(stride, wire_slot_bytes / stride * stride));
    }
    return std::max<std::size_t>(1, wire_slot_bytes / stride);
  }
  bool is_shared() const { return is_shared_; }
  /// Room for the next rows, once there is some; null when the reader is gone.
  std::uint8_t* room() {
    if (!is_shared_) return own_.data();
    std::array<char, wire_slots> given_back{};
    while (in_use_ == wire_slots) {
      const ssize_t got = read(wire_returns, given_back.data(), given_back.size());
      if (got < 0 && errno == EINTR) continue;
      if (got <= 0) return nullptr;
      in_use_ -= static_cast<std::size_t>(got);
    }
    return shared_ + next_ * wire_slot_bytes;
  }
  bool send(std::uint32_t rows, std::size_t bytes) {
    if (!say(&rows, sizeof(rows))) return false;
    if (!is_shared_) return say(own_.data(), bytes);
    ++in_use_;
    next_ = (next_ + 1) % wire_slots;
    return true;
  }

 private:
  std::uint8_t* shared_ = nullptr;
  std::vector<std::uint8_t> own_;
  bool is_shared_ = true;
  std::size_t next_ = 0, in_use_ = 0;
};

}  // namespace

int decode_worker(int argc, char** argv, const std::vector<std::string>& readable,
                  const OpenSource& open) {
  std::vector<unsigned long long> numbers;
  for (int i = 1; i < argc; ++i)
    if (const auto number = whole_number_from(argv[i])) numbers.push_back(*number);
  constexpr std::size_t words = 6;
  if (numbers.size() != words || numbers.size() + 1 != static_cast<std::size_t>(argc)) return 2;
  WireHead head;
  head.magic = WireHead::mark;
  const std::string target = numbers[5] == 1 ? all_of(wire_profile) : std::string();
  Outbox outbox;
  const auto proof = lock_up({numbers[4], static_cast<unsigned>(numbers[3]), readable});
  if (!proof) return refuse(head, proof.error());
  head.proof = proof->bits();
  const PictureLimits limits{static_cast<std::int64_t>(numbers[0]), static_cast<int>(numbers[1])};
  try {
    auto source = open(limits, static_cast<int>(numbers[2]));
    if (source && !target.empty()) source = in_profile(*std::move(source), target);
    if (!source) return refuse(head, source.error());
    const PictureHeader& header = (*source)->header();
    const std::string note = short_of(header.note);
    head.format = static_cast<std::uint32_t>(header.format);
    head.width = static_cast<std::uint32_t>(header.width);
    head.height = static_cast<std::uint32_t>(header.height);
    head.bits = static_cast<std::uint32_t>(header.bits);
    head.has_alpha = header.has_alpha ? 1 : 0;
    head.orientation = static_cast<std::uint32_t>(header.orientation);
    head.pages = static_cast<std::uint32_t>(header.pages);
    head.text = static_cast<std::uint32_t>(note.size());
    const std::size_t stride = header.stride();
    const std::size_t most = outbox.begin(stride);
    head.shared = outbox.is_shared() ? 1 : 0;
    if (!say(&head, sizeof(head)) || !say(note.data(), note.size())) return 4;
    for (std::size_t done = 0; done < static_cast<std::size_t>(header.height);) {
      const std::size_t rows = std::min(most, static_cast<std::size_t>(header.height) - done);
      std::uint8_t* batch = outbox.room();
      if (batch == nullptr) return 4;
      for (std::size_t r = 0; r < rows; ++r)
        if (auto read = (*source)->read({batch + r * stride, stride}); !read) {
          const std::string why = short_of(read.error().message);
          const std::array parts = {wire_damaged, static_cast<std::uint32_t>(why.size())};
          say(parts.data(), sizeof(parts));
          say(why.data(), why.size());
          return 3;
        }
      if (!outbox.send(static_cast<std::uint32_t>(rows), rows * stride)) return 4;
      done += rows;
    }
    return 0;
  } catch (const std::bad_alloc&) {
    return refuse(head, unreadable_picture("picture", "needs more memory than is given").value());
  }
}

}  // namespace copunctal
