#include "colour/matrix.h"

#include <math.h>

double carn_matrix_adjugate(double m[3][3], double adjugate[3][3])
{
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) {
            int p = (j + 1) % 3, q = (j + 2) % 3, r = (i + 1) % 3, s = (i + 2) % 3;
            adjugate[i][j] = m[p][r] * m[q][s] - m[p][s] * m[q][r];
        }
    double determinant = 0;
    for (int j = 0; j < 3; j++)
        determinant += m[0][j] * adjugate[j][0];
    return determinant;
}

bool carn_matrix_solve(double m[3][3], const double r[3], double least, double x[3])
{
    double adjugate[3][3], determinant = carn_matrix_adjugate(m, adjugate);
    if (fabs(determinant) < least)
        return false;
    for (int i = 0; i < 3; i++) {
        x[i] = 0;
        for (int j = 0; j < 3; j++)
            x[i] += r[j] * adjugate[i][j];
        x[i] /= determinant;
    }
    return true;
}
