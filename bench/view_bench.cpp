#include "view_bench.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <functional>
#include <string>
#include <thread>
#include <vector>

#include <fcntl.h>
#include <lcms2.h>
#include <spawn.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "copunctal/base/random.h"
#include "copunctal/image/picture_sink.h"
#include "copunctal/plate/field.h"
#include "copunctal/view/kernel.h"
#include "copunctal/view/view_map.h"
#include "timing.h"

namespace copunctal {
namespace {

namespace fs = std::filesystem;

// Of 24 megapixels, which no cache holds; worked on in strips that stay in one.
constexpr std::size_t pixels = 3U << 23, strip = 1U << 14;

// A photograph's colours, more or less: smooth, with a little noise.
std::vector<std::uint8_t> row_of(int width, int y, RandomStream& random) {
  std::vector<std::uint8_t> row;
  for (int x = 0; x < width; ++x)
    for (int c = 0; c < 3; ++c) {
      const double v = 128 + 60 * std::sin(0.004 * x + c) +
                       50 * std::cos(0.003 * y * (1 + 0.2 * c)) +
                       20 * std::sin(0.05 * x + 0.03 * y) + random.uniform(-5, 5);
      row.push_back(static_cast<std::uint8_t>(std::clamp(v, 0.0, 255.0)));
    }
  return row;
}

// As a user would ask Little CMS: sRGB to a display of other primaries, matrix and curves.
cmsHTRANSFORM matrix_shaper() {
  const cmsCIExyY white{0.3127, 0.3290, 1};
  const cmsCIExyYTRIPLE primaries{{0.680, 0.320, 1}, {0.265, 0.690, 1}, {0.150, 0.060, 1}};
  cmsToneCurve* curve = cmsBuildGamma(nullptr, 2.2);
  cmsToneCurve* curves[3] = {curve, curve, curve};  // NOLINT(modernize-avoid-c-arrays)
  cmsHPROFILE from = cmsCreate_sRGBProfile(), to = cmsCreateRGBProfile(&white, &primaries, curves);
  cmsHTRANSFORM transform = cmsCreateTransform(from, TYPE_RGB_8, to, TYPE_RGB_8,
                                               INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOCACHE);
  cmsCloseProfile(from);
  cmsCloseProfile(to);
  cmsFreeToneCurve(curve);
  return transform;
}

void kernels() {
  const Display display = *display_from("srgb");
  const ViewMap map = *ViewMap::make(*observer_from("deutan:0"), display),
                half = *ViewMap::make(*observer_from("deutan:0"), display, ViewMethod::half_planes);
  RandomStream random(1);
  std::vector<std::uint8_t> codes;
  for (int y = 0; codes.size() < 3 * pixels; ++y) {
    const auto row = row_of(2048, y, random);
    codes.insert(codes.end(), row.begin(), row.end());
  }
  std::vector<std::uint8_t> work(codes.size());
  const auto strips = [&](const KernelPlan& plan, KernelSet set, std::size_t from, std::size_t to) {
    for (std::size_t at = from; at < to; at += strip)
      run_kernel(plan, &work[3 * at], std::min(strip, to - at), nullptr, set);
  };
  constexpr int tries = 7;
  const double copy = best_of(tries, [&] { std::memcpy(work.data(), codes.data(), codes.size()); });
  cmsHTRANSFORM transform = matrix_shaper();
  const double lcms = best_of(tries, [&] {
    cmsDoTransform(transform, codes.data(), work.data(), static_cast<cmsUInt32Number>(pixels));
  });
  cmsDeleteTransform(transform);
  std::memcpy(work.data(), codes.data(), codes.size());
  const KernelPlan plan = *map.kernel_plan();
  double best = 1e9;
  for (const auto& [set, name] : {std::pair{KernelSet::plain, "plain x86-64"},
                                  {KernelSet::avx2, "AVX2"},
                                  {KernelSet::avx512, "AVX-512"}}) {
    if (set > best_kernel_set()) continue;
    const double seconds = best_of(tries, [&, set = set] { strips(plan, set, 0, pixels); });
    best = std::min(best, seconds);
    std::printf("view kernel, %-12s over Little CMS matrix-shaper          %8.2f times\n", name,
                lcms / seconds);
  }
  std::printf("view kernel over memcpy of the same codes                      %8.3f times\n",
              copy / best);
  std::printf("view kernel, megapixels a second, one core                     %8.0f (here)\n",
              static_cast<double>(pixels) / best / 1e6);
  const double two = best_of(tries, [&] {
    std::thread other([&] { strips(plan, KernelSet::best, 0, pixels / 2); });
    strips(plan, KernelSet::best, pixels / 2, pixels);
    other.join();
  });
  std::printf("view kernel, two threads over one                              %8.2f times\n",
              best / two);
  const KernelPlan two_sided = *half.kernel_plan();
  const double halves = best_of(tries, [&] { strips(two_sided, KernelSet::best, 0, pixels); });
  std::printf("two half-planes over one plane, time                           %8.2f times\n",
              halves / best);
  std::vector<std::uint16_t> deep(codes.begin(), codes.end());
  const double sixteen = best_of(tries, [&] {
    for (std::size_t at = 0; at < pixels; at += strip)
      run_kernel(plan, &deep[3 * at], strip, nullptr);
  });
  std::printf("16-bit codes over 8-bit codes, time                            %8.2f times\n",
              sixteen / best);
}

struct Used {
  double cpu = 0;
  long most_kib = 0;
};

// Nothing when the program is not there or fails. Spawned, not forked: what there is of the bench's
// own memory is no matter of the program.
Used run(const std::vector<std::string>& words) {
  std::vector<char*> arguments;
  for (const std::string& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
  arguments.push_back(nullptr);
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_addopen(&actions, STDERR_FILENO, "/dev/null", O_WRONLY, 0);
  posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
  pid_t child = 0;
  const int trouble =
      posix_spawn(&child, arguments[0], &actions, nullptr, arguments.data(), environ);
  posix_spawn_file_actions_destroy(&actions);
  if (trouble != 0) return {};
  int status = 0;
  rusage used{};
  wait4(child, &status, 0, &used);
  if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) return {};
  return {static_cast<double>(used.ru_utime.tv_sec + used.ru_stime.tv_sec) +
              1e-6 * static_cast<double>(used.ru_utime.tv_usec + used.ru_stime.tv_usec),
          used.ru_maxrss};
}

void whole_views() {
  const fs::path directory = fs::temp_directory_path() / "copunctal-bench";
  fs::create_directories(directory);
  const fs::path here = fs::read_symlink("/proc/self/exe").parent_path();
  const std::string program = here.parent_path() / "copunctal", peer = here / "vips_peer";
  for (const char* ending : {".jpg", ".png"}) {
    PictureHeader header;
    header.width = 6000;
    header.height = 4000;
    const fs::path original = directory / (std::string("original") + ending),
                   small = directory / (std::string("small") + ending),
                   view = directory / (std::string("view") + ending),
                   theirs = directory / (std::string("theirs") + ending);
    RandomStream random(2);
    for (const auto& [file, rows] : {std::pair{original, 4000}, {small, 16}}) {
      header.height = rows;
      const auto sink = open_sink(file, header, {});
      if (!sink) return;
      for (int y = 0; y < rows; ++y)
        if (!(*sink)->write(row_of(header.width, y, random))) return;
      if (!(*sink)->finish()) return;
    }
    const auto command = [&](const fs::path& in) {
      return std::vector<std::string>{program, "view", in,         "-o",
                                      view,    "--as", "deutan:0", "--force"};
    };
    const Used idle = run(command(small));
    rusage own{};
    getrusage(RUSAGE_SELF, &own);
    // In turns, so that what else the machine does falls on both.
    constexpr int tries = 15;
    std::vector<double> ratios;
    Used ours, vips;
    for (int i = 0; i < tries; ++i) {
      ours = run(command(original));
      vips = run({peer, original, theirs});
      if (vips.cpu > 0) ratios.push_back(ours.cpu / vips.cpu);
    }
    if (idle.most_kib <= own.ru_maxrss)
      std::printf("24 megapixels, %s: the peak is hidden by the bench's own\n", ending);
    else
      std::printf("24 megapixels, %s: peak above an idle start, MiB             %8.1f (here)\n",
                  ending, static_cast<double>(ours.most_kib - idle.most_kib) / 1024);
    if (ratios.empty()) {
      std::printf("24 megapixels, %s: no libvips to compare with\n", ending);
      continue;
    }
    std::sort(ratios.begin(), ratios.end());
    std::printf("24 megapixels, %s: processor time over libvips, median       %8.3f times\n",
                ending, ratios[ratios.size() / 2]);
    std::printf(
        "24 megapixels, %s: size of the file over libvips's           %8.2f times\n", ending,
        static_cast<double>(fs::file_size(view)) / static_cast<double>(fs::file_size(theirs)));
  }
  fs::remove_all(directory);
}

void packing() {
  const double field = best_of(5, [] { packed_field(7); });
  std::printf("packing a field of 1000 pebbles, ms                            %8.1f (here)\n",
              1e3 * field);
}

}  // namespace

void bench_pictures() {
  whole_views();
}

void bench_views() {
  kernels();
  std::fflush(stdout);
  const std::string here = fs::read_symlink("/proc/self/exe").string() + " pictures";
  if (std::system(here.c_str()) != 0) std::printf("whole pictures: could not be run\n");
  packing();
}

}  // namespace copunctal
