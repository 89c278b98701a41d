#include "copunctal/server/qr.h"

#include <memory>

#include <qrencode.h>

#include "copunctal/base/text.h"

namespace copunctal {
namespace {

constexpr int margin = 4;

struct FreeCode {
  void operator()(QRcode* code) const { QRcode_free(code); }
};
using Code = std::unique_ptr<QRcode, FreeCode>;

/// A level of correction that bears a quarter of the modules lost would make it larger than a
/// terminal; at level M it is 15 %.
Result<Code> code_of(std::string_view text) {
  Code code(QRcode_encodeString8bit(std::string(text).c_str(), 0, QR_ECLEVEL_M));
  if (code == nullptr)
    return fail(Error::Kind::bad_input, "no QR code can hold this text", "QR code", "",
                "use a shorter address");
  return code;
}

bool is_dark(const QRcode& code, int x, int y) {
  if (x < 0 || y < 0 || x >= code.width || y >= code.width) return false;
  return (code.data[y * code.width + x] & 1) != 0;
}

}  // namespace

Result<std::string> qr_svg(std::string_view text, std::string_view title) {
  COPUNCTAL_TRY(const Code code, code_of(text));
  const std::string side = std::to_string(code->width + 2 * margin);
  std::string svg = R"(<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 )" + side +
                    " " + side + R"(" shape-rendering="crispEdges"><title>)" + xml_text(title) +
                    R"(</title><path fill="#fff" d="M0 0h)" + side + "v" + side +
                    R"(H0z"/><path fill="#000" d=")";
  for (int y = 0; y < code->width; ++y)
    for (int x = 0; x < code->width; ++x)
      if (is_dark(*code, x, y))
        svg += "M" + std::to_string(x + margin) + " " + std::to_string(y + margin) + "h1v1h-1z";
  return svg + R"("/></svg>)" + "\n";
}

Result<std::string> qr_lines(std::string_view text, bool is_plain) {
  COPUNCTAL_TRY(const Code code, code_of(text));
  std::string lines;
  for (int y = -margin; y < code->width + margin; y += 2) {
    if (!is_plain) lines += "\x1b[38;5;16;48;5;231m";
    for (int x = -margin; x < code->width + margin; ++x) {
      // Blocks are drawn dark on the white ground, or, without colours, light on a dark one.
      const bool upper = is_dark(*code, x, y) != is_plain,
                 lower = is_dark(*code, x, y + 1) != is_plain;
      lines += upper && lower ? "█" : upper ? "▀" : lower ? "▄" : " ";
    }
    if (!is_plain) lines += "\x1b[0m";
    lines += '\n';
  }
  return lines;
}

}  // namespace copunctal
