#include "frame/upright.h"

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
