#include "frame/crop.h"

#include <math.h>

struct carn_crop carn_crop_about(struct carn_crop box, double room, double wide, double high)
{
    double w = fmin(room * fmax(box.w, box.h * 4 / 5), fmin(wide, high * 4 / 5));
    double h = w * 5 / 4;
    return (struct carn_crop){fmin(fmax(box.x + (box.w - w) / 2, 0), wide - w),
                              fmin(fmax(box.y + (box.h - h) / 2, 0), high - h), w, h};
}
