#include "frame/upright.h"

#include <math.h>

bool carn_upright_lies(unsigned orientation)
{
    return orientation >= 5;
}

unsigned carn_upright_back(unsigned orientation)
{
    /* Quarter turns; all others undo themselves. */
    return orientation == 6 ? 8 : orientation == 8 ? 6 : orientation;
}

struct carn_upright carn_upright(unsigned orientation, double right, double bottom)
{
    unsigned o = orientation;
    bool lies = carn_upright_lies(o);
    bool mirror_x = o == 2 || o == 3 || o == 7 || o == 8;
    bool mirror_y = o == 3 || o == 4 || o == 6 || o == 7;
    const double x[3] = {mirror_x ? -1 : 1, 0, mirror_x ? right : 0};
    const double y[3] = {0, mirror_y ? -1 : 1, mirror_y ? bottom : 0};
    struct carn_upright upright;
    for (int i = 0; i < 3; i++) {
        upright.m[0][i] = lies ? y[i] : x[i];
        upright.m[1][i] = lies ? x[i] : y[i];
    }
    return upright;
}

struct carn_area carn_upright_area(unsigned orientation, size_t wide, size_t high,
                                   struct carn_area area)
{
    const struct carn_upright upright = carn_upright(orientation, (double)wide, (double)high);
    double ax, ay, bx, by;
    carn_upright_place(&upright, (double)area.x0, (double)area.y0, &ax, &ay);
    carn_upright_place(&upright, (double)area.x1, (double)area.y1, &bx, &by);
    return (struct carn_area){(size_t)fmin(ax, bx), (size_t)fmin(ay, by), (size_t)fmax(ax, bx),
                              (size_t)fmax(ay, by)};
}
