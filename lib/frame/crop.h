/*
 * crop: the part of a picture that shows a face with room around it, in the ratio 4 to 5.
 */
#ifndef CARN_CROP_H
#define CARN_CROP_H

/* A part of a picture, in pixels. */
struct carn_crop {
    double x, y, w, h;
};

/*
 * The part about box, its middle in the middle as far as the picture of wide x high pixels goes:
 * room times as wide as the box is wide, or as 4/5 of its height where that is more; five
 * fourths as high as wide; no wider or higher than the picture, and wholly inside of it.
 */
struct carn_crop carn_crop_about(struct carn_crop box, double room, double wide, double high);

/* Room for a box from hairline to chin that shows hair and neck too. */
#define CARN_CROP_FACE 1.5

#endif
