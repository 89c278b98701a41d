// copunctal-decode: a picture from standard input to rows on standard output.
//
// A program of its own, so that it can lock itself up before it touches the picture, and so that
// nothing but decoders is in it. Not meant to be started by hand: image/sandboxed.h starts it.
#include <array>
#include <cstdio>

#include "copunctal/image/decode_worker.h"
#include "copunctal/image/replacement.h"

int main(int argc, char** argv) {
  static std::array<char, copunctal::picture_file_buffer> buffer;
  std::setvbuf(stdin, buffer.data(), _IOFBF, buffer.size());
  return copunctal::decode_worker(
      argc, argv, {}, [](const copunctal::PictureLimits& limits, int page) {
        return copunctal::decode_picture(stdin, "picture", limits, page);
      });
}
