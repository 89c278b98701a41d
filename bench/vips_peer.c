/* The same view by libvips, for the bench alone: decoded, linear light, one matrix, encoded, written. */
#include <string.h>
#include <vips/vips.h>

int main(int argc, char** argv) {
  if (argc != 3 || VIPS_INIT(argv[0]) != 0) return 2;
  VipsImage *in, *linear, *matrix, *seen, *out;
  double rows[9] = {.29574, .70426, 0, .29574, .70426, 0, -.01848, .01848, 1};
  in = vips_image_new_from_file(argv[1], "access", VIPS_ACCESS_SEQUENTIAL, NULL);
  if (in == NULL || vips_colourspace(in, &linear, VIPS_INTERPRETATION_scRGB, NULL) != 0) return 1;
  matrix = vips_image_new_matrix_from_array(3, 3, rows, 9);
  if (vips_recomb(linear, &seen, matrix, NULL) != 0) return 1;
  if (vips_colourspace(seen, &out, VIPS_INTERPRETATION_sRGB, NULL) != 0) return 1;
  if (strstr(argv[2], ".jpg") != NULL)
    return vips_image_write_to_file(out, argv[2], "Q", 92, "subsample_mode",
                                    VIPS_FOREIGN_SUBSAMPLE_OFF, NULL) != 0;
  return vips_image_write_to_file(out, argv[2], NULL) != 0;
}
