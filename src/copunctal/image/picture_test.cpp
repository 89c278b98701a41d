#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>

#include <gtest/gtest.h>
#include <jpeglib.h>
#include <lcms2.h>

#include "copunctal/base/files.h"
#include "copunctal/base/random.h"
#include "copunctal/image/exif.h"
#include "copunctal/image/picture_sink.h"
#include "copunctal/image/png.h"
#include "copunctal/image/sandboxed.h"
#include "copunctal/image/wire.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

class Pictures : public testing::Test {
 protected:
  void SetUp() override {
    std::string pattern = (fs::temp_directory_path() / "copunctal-pictures-XXXXXX").string();
    ASSERT_NE(mkdtemp(pattern.data()), nullptr);
    directory = pattern;
  }
  void TearDown() override { fs::remove_all(directory); }
  fs::path directory;
};

struct Whole {
  PictureHeader header;
  std::vector<std::uint8_t> bytes;
};

PictureHeader header_of(int width, int height, int bits = 8, bool has_alpha = false) {
  PictureHeader header;
  header.width = width;
  header.height = height;
  header.bits = bits;
  header.has_alpha = has_alpha;
  return header;
}

// Smooth, so that a lossy format keeps it nearly.
std::vector<std::uint8_t> smooth(const PictureHeader& header) {
  std::vector<std::uint8_t> bytes;
  for (int y = 0; y < header.height; ++y)
    for (int x = 0; x < header.width; ++x)
      for (std::size_t c = 0; c < header.channels(); ++c) {
        const double v = 0.5 + 0.4 * std::sin(0.05 * x + 0.03 * y + 2.0 * static_cast<double>(c));
        if (header.bits == 16) {
          const auto deep = static_cast<std::uint16_t>(std::lround(65535 * v));
          std::array<std::uint8_t, 2> two{};
          std::memcpy(two.data(), &deep, 2);
          bytes.insert(bytes.end(), two.begin(), two.end());
        } else {
          bytes.push_back(static_cast<std::uint8_t>(std::lround(255 * v)));
        }
      }
  return bytes;
}

void write_whole(const fs::path& file, const PictureHeader& header,
                 const std::vector<std::uint8_t>& bytes, std::string_view profile = {}) {
  const auto sink = open_sink(file, header, profile);
  ASSERT_TRUE(sink.has_value()) << sink.error().message;
  for (std::size_t at = 0; at < bytes.size(); at += header.stride())
    ASSERT_TRUE((*sink)->write({&bytes[at], header.stride()}).has_value());
  ASSERT_TRUE((*sink)->finish().has_value());
}

Result<Whole> read_whole(const fs::path& file, const OpenOptions& options) {
  COPUNCTAL_TRY(const auto source, open_picture(file, options));
  Whole whole{source->header(), {}};
  const std::size_t stride = whole.header.stride();
  whole.bytes.resize(stride * static_cast<std::size_t>(whole.header.height));
  for (std::size_t at = 0; at < whole.bytes.size(); at += stride)
    COPUNCTAL_TRY_VOID(source->read({&whole.bytes[at], stride}));
  return whole;
}

constexpr auto trusted = [] {
  OpenOptions options;
  options.trusted = true;
  return options;
};

TEST_F(Pictures, SurviveTheFormatsThatLoseNothing) {
  for (const char* name : {"a.png", "a.tif"})
    for (const int bits : {8, 16})
      for (const bool alpha : {false, true}) {
        const PictureHeader header = header_of(61, 47, bits, alpha);
        const auto bytes = smooth(header);
        write_whole(directory / name, header, bytes);
        const auto read = read_whole(directory / name, trusted());
        ASSERT_TRUE(read.has_value()) << name << ": " << read.error().message;
        EXPECT_EQ(read->header.bits, bits) << name;
        EXPECT_EQ(read->header.has_alpha, alpha) << name;
        EXPECT_EQ(read->bytes, bytes) << name << " " << bits << " " << alpha;
        EXPECT_FALSE(fs::exists((directory / name).string() + ".part"));
      }
}

// Through the locked-up decoder, many times what it shares with its reader, by rows and by parts,
// changed where they lie; and a picture whose rows are too long to be shared.
TEST_F(Pictures, ComeByRowsOrByPartsAlike) {
  constexpr int shared_width = 1500, shared_height = 1200, long_width = 100'000, long_height = 12;
  static_assert(std::size_t{3} * shared_width * shared_height > 4 * wire_slots * wire_slot_bytes);
  static_assert(std::size_t{3} * long_width > wire_slot_bytes);
  for (const PictureHeader& header :
       {header_of(shared_width, shared_height), header_of(long_width, long_height)}) {
    const auto bytes = smooth(header);
    write_whole(directory / "a.png", header, bytes);
    for (const bool is_trusted : {false, true}) {
      OpenOptions options;
      options.trusted = is_trusted;
      const auto by_rows = read_whole(directory / "a.png", options);
      ASSERT_TRUE(by_rows.has_value()) << by_rows.error().message;
      EXPECT_EQ(by_rows->bytes, bytes);
      for (const std::size_t most : {1U, 7U, 100'000U}) {
        const auto source = open_picture(directory / "a.png", options);
        ASSERT_TRUE(source.has_value()) << source.error().message;
        std::vector<std::uint8_t> row(header.stride());
        std::size_t at = 0, parts = 0;
        while (at < bytes.size()) {
          // Every other time a row by itself: both ways may be mixed.
          if (parts++ % 2 == 1) {
            ASSERT_TRUE((*source)->read(row).has_value());
            ASSERT_TRUE(std::equal(row.begin(), row.end(), &bytes[at])) << at;
            at += row.size();
            continue;
          }
          const auto part = (*source)->take(most);
          ASSERT_TRUE(part.has_value()) << part.error().message;
          ASSERT_LE(part->size(), most * row.size());
          ASSERT_EQ(part->size() % row.size(), 0U);
          ASSERT_TRUE(std::equal(part->begin(), part->end(), &bytes[at])) << at;
          at += part->size();
          std::fill(part->begin(), part->end(), std::uint8_t{0xff});
        }
        EXPECT_EQ(at, bytes.size());
      }
    }
  }
}

TEST_F(Pictures, SurviveLossyFormatsNearly) {
  for (const char* name : {"a.jpg", "a.webp"}) {
    const PictureHeader header = header_of(160, 120);
    const auto bytes = smooth(header);
    write_whole(directory / name, header, bytes);
    const auto read = read_whole(directory / name, trusted());
    ASSERT_TRUE(read.has_value()) << read.error().message;
    double sum = 0;
    for (std::size_t i = 0; i < bytes.size(); ++i)
      sum += std::abs(static_cast<int>(bytes[i]) - read->bytes[i]);
    EXPECT_LT(sum / static_cast<double>(bytes.size()), 2.5) << name;
  }
}

// Inks as libjpeg itself writes them, with the segment by which 255 is none.
TEST_F(Pictures, OfInksAreRead) {
  jpeg_compress_struct jpeg{};
  jpeg_error_mgr errors{};
  jpeg.err = jpeg_std_error(&errors);
  jpeg_create_compress(&jpeg);
  const File file(std::fopen((directory / "inks.jpg").c_str(), "wb"));
  jpeg_stdio_dest(&jpeg, file.get());
  jpeg.image_width = jpeg.image_height = 16;
  jpeg.input_components = 4;
  jpeg.in_color_space = JCS_CMYK;
  jpeg_set_defaults(&jpeg);
  jpeg_set_quality(&jpeg, 100, TRUE);
  jpeg_start_compress(&jpeg, TRUE);
  std::vector<std::uint8_t> row;
  for (int x = 0; x < 16; ++x) row.insert(row.end(), {0, 255, 255, 255});  // cyan alone
  for (int y = 0; y < 16; ++y) {
    JSAMPROW rows = row.data();
    jpeg_write_scanlines(&jpeg, &rows, 1);
  }
  jpeg_finish_compress(&jpeg);
  jpeg_destroy_compress(&jpeg);
  std::fflush(file.get());
  const auto read = read_whole(directory / "inks.jpg", trusted());
  ASSERT_TRUE(read.has_value()) << read.error().message;
  EXPECT_NE(read->header.note, "");
  EXPECT_NEAR(read->bytes[0], 0, 2);
  EXPECT_NEAR(read->bytes[1], 255, 2);
  EXPECT_NEAR(read->bytes[2], 255, 2);
}

// What a program of somebody's puts before the picture is skipped, however long it is.
TEST_F(Pictures, OfJpegComeAfterLongSegments) {
  const PictureHeader header = header_of(160, 120);
  write_whole(directory / "a.jpg", header, smooth(header));
  const auto plain = read_whole(directory / "a.jpg", trusted());
  ASSERT_TRUE(plain.has_value());
  const std::string whole = *read_file(directory / "a.jpg");
  // ITU-T T.81, B.2.4.6: application data, with a length that counts itself.
  constexpr std::size_t longest = 0xffff;
  std::string segment = "\xff\xe5\xff\xff";
  segment.resize(2 + longest, '\x55');
  std::string padded = whole.substr(0, 2);
  for (int i = 0; i < 5; ++i) padded += segment;
  padded += whole.substr(2);
  ASSERT_TRUE(write_file(padded, directory / "b.jpg").has_value());
  const auto read = read_whole(directory / "b.jpg", trusted());
  ASSERT_TRUE(read.has_value()) << read.error().message;
  EXPECT_EQ(read->bytes, plain->bytes);
  // Cut off within them it is damaged, not endless.
  ASSERT_TRUE(write_file(padded.substr(0, 3 * longest), directory / "c.jpg").has_value());
  EXPECT_FALSE(read_whole(directory / "c.jpg", trusted()).has_value());
}

TEST_F(Pictures, SayWhatAFormatCannotKeep) {
  EXPECT_EQ(lost_in(PictureFormat::png, header_of(1, 1, 16, true)), "");
  EXPECT_NE(lost_in(PictureFormat::jpeg, header_of(1, 1, 8, true)), "");
  EXPECT_NE(lost_in(PictureFormat::webp, header_of(1, 1, 16)), "");
  EXPECT_EQ(format_for("a.JPEG").value(), PictureFormat::jpeg);
  EXPECT_EQ(format_for("a.svg").error().kind, Error::Kind::usage);
  EXPECT_EQ(format_for("a").error().kind, Error::Kind::usage);
}

// EXIF (CIPA DC-008) and TIFF 6.0 number eight ways up. Here by what each means: where the stored
// first row and first column lie in the upright picture.
TEST_F(Pictures, StandUprightFromAllEightOrientations) {
  // Upright: 3 wide, 2 high, numbered 0 to 5 row by row.
  const std::vector<std::vector<int>> stored = {
      {},
      {0, 1, 2, 3, 4, 5},  // 1: row 0 top, column 0 left
      {2, 1, 0, 5, 4, 3},  // 2: top, right
      {5, 4, 3, 2, 1, 0},  // 3: bottom, right
      {3, 4, 5, 0, 1, 2},  // 4: bottom, left
      {0, 3, 1, 4, 2, 5},  // 5: left, top
      {2, 5, 1, 4, 0, 3},  // 6: right, top
      {5, 2, 4, 1, 3, 0},  // 7: right, bottom
      {3, 0, 4, 1, 5, 2},  // 8: left, bottom
  };
  for (int orientation = 1; orientation <= 8; ++orientation) {
    const bool turned = orientation >= 5;
    PictureHeader header = turned ? header_of(2, 3) : header_of(3, 2);
    header.orientation = orientation;
    std::vector<std::uint8_t> bytes;
    for (const int number : stored[static_cast<std::size_t>(orientation)])
      bytes.insert(bytes.end(), 3, static_cast<std::uint8_t>(40 * number));
    PictureHeader now = header;
    const auto standing = upright(bytes, now);
    EXPECT_EQ(now.width, 3);
    EXPECT_EQ(now.height, 2);
    EXPECT_EQ(now.orientation, 1);
    for (std::size_t i = 0; i < 6; ++i)
      EXPECT_EQ(standing[3 * i], 40 * i) << orientation << " at " << i;
    // Through a file that keeps the tag.
    write_whole(directory / "o.tif", header, bytes);
    EXPECT_EQ((*open_picture(directory / "o.tif", trusted()))->header().orientation, orientation);
    const auto whole = read_picture(directory / "o.tif", trusted());
    ASSERT_TRUE(whole.has_value());
    EXPECT_EQ(whole->width, 3);
    EXPECT_EQ(whole->rgb[3], 40);
    EXPECT_EQ(exif_orientation(exif_block(orientation)), orientation);
    PictureHeader large = header_of(32, 16);
    large.orientation = orientation;
    write_whole(directory / "o.jpg", large, smooth(large));
    EXPECT_EQ((*open_picture(directory / "o.jpg", trusted()))->header().orientation, orientation);
  }
  for (const char* nonsense : {"", "Exif", "Exif\0\0MM\0*\xff\xff\xff\xff", "II*"})
    EXPECT_EQ(exif_orientation(nonsense), 1);
}

// A camera writes its bytes the other way round: a block by hand after TIFF 6.0.
TEST_F(Pictures, OrientationIsReadInBothOrdersOfBytes) {
  using namespace std::string_view_literals;
  EXPECT_EQ(exif_orientation("Exif\0\0MM\0*\0\0\0\x08\0\x02"
                             "\x01\x0f\0\x02\0\0\0\x04\0\0\0\0"
                             "\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0"sv),
            6);
}

struct Closed {
  void operator()(void* profile) const { cmsCloseProfile(profile); }
};

std::string profile_with(double red_x, double red_y, double gamma) {
  const cmsCIExyY white{0.3127, 0.3290, 1};
  const cmsCIExyYTRIPLE primaries{{red_x, red_y, 1}, {0.265, 0.690, 1}, {0.150, 0.060, 1}};
  cmsToneCurve* curve = cmsBuildGamma(nullptr, gamma);
  cmsToneCurve* curves[3] = {curve, curve, curve};  // NOLINT(modernize-avoid-c-arrays)
  const std::unique_ptr<void, Closed> profile(cmsCreateRGBProfile(&white, &primaries, curves));
  cmsFreeToneCurve(curve);
  cmsUInt32Number length = 0;
  cmsSaveProfileToMem(profile.get(), nullptr, &length);
  std::string bytes(length, '\0');
  cmsSaveProfileToMem(profile.get(), bytes.data(), &length);
  return bytes;
}

// Against Little CMS asked directly.
TEST_F(Pictures, AreTurnedFromTheirEmbeddedProfile) {
  const std::string wide = profile_with(0.680, 0.320, 2.2), target = srgb_profile();
  for (const char* name : {"p.png", "p.tif"})
    for (const int bits : {8, 16}) {
      const PictureHeader header = header_of(40, 30, bits);
      const auto bytes = smooth(header);
      write_whole(directory / name, header, bytes, wide);
      OpenOptions options = trusted();
      options.target = target;
      const auto read = read_whole(directory / name, options);
      ASSERT_TRUE(read.has_value());
      EXPECT_NE(read->header.note.find("was applied"), std::string::npos);
      const std::unique_ptr<void, Closed> from(
          cmsOpenProfileFromMem(wide.data(), static_cast<cmsUInt32Number>(wide.size()))),
          to(cmsOpenProfileFromMem(target.data(), static_cast<cmsUInt32Number>(target.size())));
      const cmsUInt32Number layout = bits == 16 ? TYPE_RGB_16 : TYPE_RGB_8;
      void* transform = cmsCreateTransform(from.get(), layout, to.get(), layout,
                                           INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOCACHE);
      std::vector<std::uint8_t> expected = bytes;
      cmsDoTransform(transform, bytes.data(), expected.data(), 40 * 30);
      cmsDeleteTransform(transform);
      EXPECT_EQ(read->bytes, expected) << name;
      EXPECT_NE(read->bytes, bytes);
    }
  // The display's own profile, and none, leave codes alone; a profile of nonsense is said.
  const PictureHeader header = header_of(40, 30);
  const auto bytes = smooth(header);
  OpenOptions options = trusted();
  options.target = target;
  for (const auto& [profile, words] :
       {std::pair<std::string, const char*>{target, "that of the display"},
        {"", "sRGB"},
        {std::string(300, 'x'), "not"}}) {
    write_whole(directory / "q.jpg", header, bytes, profile);
    write_whole(directory / "q.tif", header, bytes, profile);
    const auto read = read_whole(directory / "q.tif", options);
    ASSERT_TRUE(read.has_value());
    EXPECT_EQ(read->bytes, bytes) << words;
    if (!profile.empty()) {
      EXPECT_NE(read->header.note.find(words), std::string::npos) << read->header.note;
    } else {
      EXPECT_NE(read->header.note.find("no colour profile"), std::string::npos);
    }
  }
}

TEST_F(Pictures, HaveTheirWordsWhenTheyCannotBeRead) {
  std::ofstream(directory / "text.png") << "not a picture at all";
  std::ofstream(directory / "empty.jpg") << "";
  for (const char* name : {"text.png", "empty.jpg", "missing.png"}) {
    const auto source = open_picture(directory / name, trusted());
    ASSERT_FALSE(source.has_value()) << name;
    EXPECT_EQ(source.error().kind, Error::Kind::bad_input);
    EXPECT_NE(source.error().message.find(name), std::string::npos);
    EXPECT_FALSE(source.error().remedy.empty());
  }
  EXPECT_FALSE(open_picture(directory, trusted()).has_value());
  // Cut at every tenth part: an error, never half a picture.
  for (const char* name : {"c.png", "c.jpg", "c.tif", "c.webp"}) {
    const PictureHeader header = header_of(80, 60);
    write_whole(directory / name, header, smooth(header));
    const auto size = fs::file_size(directory / name);
    for (int tenth = 9; tenth >= 1; --tenth) {
      fs::resize_file(directory / name, size * static_cast<std::uintmax_t>(tenth) / 10);
      EXPECT_FALSE(read_whole(directory / name, trusted()).has_value()) << name << " " << tenth;
    }
  }
}

TEST_F(Pictures, ThatCannotBeWrittenLeaveNothing) {
  const PictureHeader header = header_of(8, 8);
  for (const char* name : {"a.png", "a.jpg", "a.tif", "a.webp"}) {
    const auto nowhere = open_sink(directory / "no" / name, header, {});
    ASSERT_FALSE(nowhere.has_value()) << name;
    EXPECT_EQ(nowhere.error().kind, Error::Kind::io);
    {
      const auto sink = open_sink(directory / name, header, {});
      ASSERT_TRUE(sink.has_value());
      const std::vector<std::uint8_t> row(header.stride());
      ASSERT_TRUE((*sink)->write(row).has_value());
    }
    EXPECT_TRUE(fs::is_empty(directory)) << name << ": given up half-way";
  }
  EXPECT_FALSE(open_sink(directory / "wide.webp", header_of(20000, 1), {}).has_value());
  EXPECT_FALSE(open_sink(directory / "wide.jpg", header_of(70000, 1), {}).has_value());
  EXPECT_TRUE(fs::is_empty(directory));
}

// Spoilt bytes anywhere: an error or a picture, in this process too.
TEST_F(Pictures, SurviveSpoiltBytes) {
  RandomStream random(99);
  for (const char* name : {"s.png", "s.jpg", "s.tif", "s.webp"}) {
    const PictureHeader header = header_of(64, 48);
    write_whole(directory / name, header, smooth(header), srgb_profile());
    const std::string bytes = *read_file(directory / name);
    for (int trial = 0; trial < 150; ++trial) {
      std::string spoilt = bytes;
      for (std::uint32_t n = 0; n <= random.below(4); ++n)
        spoilt[random.below(static_cast<std::uint32_t>(spoilt.size()))] =
            static_cast<char>(random.below(256));
      std::ofstream(directory / "x", std::ios::binary) << spoilt;
      OpenOptions options = trusted();
      options.limits = limits_of_server;
      options.target = srgb_profile();
      const auto read = read_whole(directory / "x", options);
      if (!read) {
        EXPECT_EQ(read.error().kind, Error::Kind::bad_input) << read.error().message;
      }
    }
  }
}

}  // namespace
}  // namespace copunctal
