/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shaft/beam.h"

#include <gsl/gsl_linalg.h>
#include <stdlib.h>

#include "base/message.h"
#include "base/order.h"

enum { ELEMENT_DOFS = 2 * BEAM_NODE_DOFS };

/* Five-point Gauss rule on (0, 1); roots of the Legendre polynomial P5, exact expressions
 * evaluated to double precision (e.g. Abramowitz & Stegun 1964, table 25.4). */
static const double gauss_x[BEAM_GAUSS] = {0.04691007703066800360, 0.23076534494715845448, 0.5,
                                           0.76923465505284154552, 0.95308992296933199640};
static const double gauss_w[BEAM_GAUSS] = {0.11846344252809454376, 0.23931433524968323402,
                                           0.28444444444444444444, 0.23931433524968323402,
                                           0.11846344252809454376};

/* Hermite cubics at x = t h, for values (0, 2) and slopes (1, 3) of the two nodes; `order`
 * derivatives by s. */
static void hermite(double t, double h, int order, double n[4])
{
    const double t2 = t * t;
    switch (order) {
    case 0:
        n[0] = 1 - t2 * (3 - 2 * t);
        n[1] = h * t * (1 - t) * (1 - t);
        n[2] = t2 * (3 - 2 * t);
        n[3] = h * t2 * (t - 1);
        break;
    case 1:
        n[0] = -6 * t * (1 - t) / h;
        n[1] = 1 - t * (4 - 3 * t);
        n[2] = 6 * t * (1 - t) / h;
        n[3] = t * (3 * t - 2);
        break;
    default:
        n[0] = (12 * t - 6) / (h * h);
        n[1] = (6 * t - 4) / h;
        n[2] = (6 - 12 * t) / (h * h);
        n[3] = (6 * t - 2) / h;
    }
}

/* Element rows that take displacement (v or w) to its values n of hermite(). */
static const int v_rows[4] = {BEAM_V, BEAM_V_SLOPE, BEAM_NODE_DOFS + BEAM_V,
                              BEAM_NODE_DOFS + BEAM_V_SLOPE};
static const int w_rows[4] = {BEAM_W, BEAM_W_SLOPE, BEAM_NODE_DOFS + BEAM_W,
                              BEAM_NODE_DOFS + BEAM_W_SLOPE};

/* The same for phi: quadratics at x = t h for the first node, the middle and the second node. */
static const int phi_rows[3] = {BEAM_PHI, BEAM_NODE_DOFS + BEAM_PHI_MID, BEAM_NODE_DOFS + BEAM_PHI};

static void quadratic(double t, double n[3])
{
    n[0] = (1 - t) * (1 - 2 * t);
    n[1] = 4 * t * (1 - t);
    n[2] = t * (2 * t - 1);
}

static void quadratic_slope(double t, double h, double n[3])
{
    n[0] = (4 * t - 3) / h;
    n[1] = (4 - 8 * t) / h;
    n[2] = (4 * t - 1) / h;
}

static void spread(const int rows[4], const double n[4], double scale, double out[ELEMENT_DOFS])
{
    for (int i = 0; i < 4; i++)
        out[rows[i]] += scale * n[i];
}

/* a(rows, columns) += scale u v', and the same across the diagonal when the rows are others. */
static void add_block(double a[ELEMENT_DOFS][ELEMENT_DOFS], double scale, const int *rows,
                      const double *u, int row_count, const int *columns, const double *v,
                      int column_count)
{
    for (int i = 0; i < row_count; i++)
        for (int j = 0; j < column_count; j++) {
            const double x = scale * u[i] * v[j];
            a[rows[i]][columns[j]] += x;
            if (rows != columns)
                a[columns[j]][rows[i]] += x;
        }
}

/* kg/m of added mass at s. */
static double added_mass(const beam *b, double s)
{
    const double at = b->held_at - s;
    const beam_added *g = &b->added;
    if (!(at > g->from_at && at < g->to_at))
        return 0;
    const double x = (at - g->from_at) / (g->to_at - g->from_at);
    return g->mass_from + x * (g->mass_to - g->mass_from);
}

profile_point beam_section(const beam *b, double s)
{
    profile_point p = profile_at(b->profile, b->held_at - s);
    const beam_added *g = &b->added;
    const double m = added_mass(b, s);
    p.mass += m;
    p.polar +=
        m * (g->gyration * g->gyration + g->offset_2 * g->offset_2 + g->offset_3 * g->offset_3);
    return p;
}

/* Adds what a section gives to the stiffness of an element h long, at t of it, `over` long. */
static void add_section(const profile_point *p, double t, double h, double over,
                        double k[ELEMENT_DOFS][ELEMENT_DOFS])
{
    const double ca = cos(p->angle), sa = sin(p->angle), a = over * p->ei, b = over * p->ei_2;
    double n[4], q[3];
    hermite(t, h, 2, n);
    add_block(k, a * ca * ca + b * sa * sa, v_rows, n, 4, v_rows, n, 4);
    add_block(k, a * sa * sa + b * ca * ca, w_rows, n, 4, w_rows, n, 4);
    if (a != b)
        add_block(k, (a - b) * sa * ca, v_rows, n, 4, w_rows, n, 4);
    quadratic_slope(t, h, q);
    add_block(k, over * p->gj, phi_rows, q, 3, phi_rows, q, 3);
}

/* Adds what cell c of element e gives between two places. */
static void add_cell(const beam *b, size_t e, size_t c, double from, double to,
                     double k[ELEMENT_DOFS][ELEMENT_DOFS])
{
    const double s0 = b->node[e], h = b->node[e + 1] - s0, low = fmax(b->edge[c], from);
    const double over = fmin(b->edge[c + 1], to) - low;
    const bool whole = low == b->edge[c] && low + over == b->edge[c + 1];
    if (!(over > 0))
        return;
    for (int g = 0; g < BEAM_GAUSS; g++) {
        const profile_point cut = whole ? b->section[c * BEAM_GAUSS + (size_t)g]
                                        : beam_section(b, low + gauss_x[g] * over);
        add_section(&cut, (low - s0) / h + gauss_x[g] * (over / h), h, gauss_w[g] * over, k);
    }
}

/* Stiffness of what lies of element e between two places. */
static void element_stiffness(const beam *b, size_t e, double from, double to,
                              double k[ELEMENT_DOFS][ELEMENT_DOFS])
{
    for (size_t c = b->cell[e]; c < b->cell[e + 1]; c++)
        add_cell(b, e, c, from, to, k);
}

static void element_mass(const beam *b, size_t e, double m[ELEMENT_DOFS][ELEMENT_DOFS])
{
    const double s0 = b->node[e], h = b->node[e + 1] - s0;
    for (size_t i = BEAM_GAUSS * b->cell[e]; i < BEAM_GAUSS * b->cell[e + 1]; i++) {
        const beam_point *p = &b->point[i];
        const double *edge = b->edge + i / BEAM_GAUSS;
        const double t = (edge[0] - s0) / h + gauss_x[i % BEAM_GAUSS] * ((edge[1] - edge[0]) / h);
        double n[4], q[3];
        hermite(t, h, 0, n);
        quadratic(t, q);
        add_block(m, p->mass, v_rows, n, 4, v_rows, n, 4);
        add_block(m, p->mass, w_rows, n, 4, w_rows, n, 4);
        add_block(m, p->polar, phi_rows, q, 3, phi_rows, q, 3);
        if (p->first_2 != 0 || p->first_3 != 0) {
            add_block(m, -p->first_3, v_rows, n, 4, phi_rows, q, 3);
            add_block(m, p->first_2, w_rows, n, 4, phi_rows, q, 3);
        }
    }
}

/* Adds an element matrix to a band matrix, leaving out the held node. */
static void assemble(const beam *b, size_t e, double a[ELEMENT_DOFS][ELEMENT_DOFS], double *band)
{
    (void)b;
    for (int i = 0; i < ELEMENT_DOFS; i++)
        for (int j = 0; j <= i; j++) {
            const ptrdiff_t row = (ptrdiff_t)(e * BEAM_NODE_DOFS) + i - BEAM_NODE_DOFS;
            const ptrdiff_t col = (ptrdiff_t)(e * BEAM_NODE_DOFS) + j - BEAM_NODE_DOFS;
            if (col >= 0)
                band[col * (BEAM_BAND + 1) + (row - col)] += a[i][j];
        }
}

/* Adds a place to the fixed nodes unless one is near already. An element a thousandth of the shaft
 * long is 1e9 times as stiff as the shaft; shorter ones would drown the rest in rounding. */
static void mesh_fix(const beam *b, double *fixed, size_t *n, double s)
{
    const double near = 1e-3 * b->length;
    for (size_t i = 0; i < *n; i++)
        if (fabs(s - fixed[i]) < near)
            return;
    if (s > 0 && s < b->length)
        fixed[(*n)++] = s;
}

/* The nodes that a mesh must have, ascending: both ends, then by precedence the loads, the jumps
 * (ends of sections and of the added mass), the thirds and the stations. Returns their number; 0 = no memory. */
static size_t mesh_fixed(const beam *b, const beam_shape *shape, double **out)
{
    const double *places, *jumps;
    const size_t place_count = profile_places(shape->profile, &places);
    const size_t jump_count = profile_jumps(shape->profile, &jumps);
    double *fixed = *out =
        malloc((place_count + jump_count + shape->loaded_count + 6) * sizeof *fixed);
    if (!fixed)
        return 0;
    size_t n = 2;
    fixed[0] = 0;
    fixed[1] = b->length;
    for (size_t i = 0; i < shape->loaded_count; i++)
        mesh_fix(b, fixed, &n, shape->held_at - shape->loaded[i]);
    for (size_t i = 0; i < jump_count; i++)
        mesh_fix(b, fixed, &n, shape->held_at - jumps[i]);
    mesh_fix(b, fixed, &n, shape->held_at - shape->added.from_at);
    mesh_fix(b, fixed, &n, shape->held_at - shape->added.to_at);
    mesh_fix(b, fixed, &n, b->length / 3);
    mesh_fix(b, fixed, &n, 2 * b->length / 3);
    for (size_t i = 0; i < place_count; i++)
        mesh_fix(b, fixed, &n, shape->held_at - places[i]);
    qsort(fixed, n, sizeof *fixed, order_doubles);
    return n;
}

/* The fixed nodes, then evenly between until no element is longer than shape->element. */
static bool mesh_create(beam *b, const beam_shape *shape)
{
    double *fixed = NULL;
    const size_t count = mesh_fixed(b, shape, &fixed);
    size_t total = 1;
    for (size_t i = 0; i + 1 < count; i++)
        total += (size_t)ceil((fixed[i + 1] - fixed[i]) / shape->element - 1e-9);
    b->node = count ? malloc(total * sizeof *b->node) : NULL;
    if (b->node) {
        b->node[0] = 0;
        size_t k = 1;
        for (size_t i = 0; i + 1 < count; i++) {
            const double gap = fixed[i + 1] - fixed[i];
            const size_t pieces = (size_t)ceil(gap / shape->element - 1e-9);
            for (size_t j = 1; j <= pieces; j++)
                b->node[k++] =
                    j == pieces ? fixed[i + 1] : fixed[i] + gap * (double)j / (double)pieces;
        }
        b->node_count = total;
    }
    free(fixed);
    return b->node != NULL;
}

/* The cells of all elements: where a jump is too near a node to be one, its element is integrated in
 * two parts, since no rule of quadrature sees a jump. */
static bool cells_create(beam *b, const beam_shape *shape)
{
    const double *jumps;
    const size_t count = profile_jumps(shape->profile, &jumps), elements = b->node_count - 1;
    b->cell = malloc((elements + 1) * sizeof *b->cell);
    b->edge = malloc((elements + count + 3) * sizeof *b->edge);
    if (!b->cell || !b->edge)
        return false;
    size_t n = 0;
    for (size_t e = 0; e < elements; e++) {
        const double low = b->node[e], high = b->node[e + 1];
        const size_t first = n;
        b->cell[e] = n;
        b->edge[n++] = low;
        for (size_t i = 0; i < count + 2; i++) {
            const double s = shape->held_at - (i < count    ? jumps[i]
                                               : i == count ? shape->added.from_at
                                                            : shape->added.to_at);
            if (s > low && s < high)
                b->edge[n++] = s;
        }
        qsort(b->edge + first, n - first, sizeof *b->edge, order_doubles);
    }
    b->cell[elements] = n;
    b->edge[n] = b->length;
    return true;
}

static void points_fill(beam *b)
{
    for (size_t i = 0; i < b->point_count; i++) {
        const double *edge = b->edge + i / BEAM_GAUSS, over = edge[1] - edge[0];
        const double s = edge[0] + gauss_x[i % BEAM_GAUSS] * over;
        const double w = gauss_w[i % BEAM_GAUSS] * over, added = w * added_mass(b, s);
        const profile_point p = b->section[i] = beam_section(b, s);
        b->point[i] = (beam_point){.s = s,
                                   .over = w,
                                   .ei = sqrt(p.ei * p.ei_2),
                                   .gj = p.gj,
                                   .mass = w * p.mass,
                                   .polar = w * p.polar,
                                   .first_2 = added * b->added.offset_2,
                                   .first_3 = added * b->added.offset_3};
    }
}

static gsl_matrix_view band_view(double *band, size_t n)
{
    return gsl_matrix_view_array(band, n, BEAM_BAND + 1);
}

static bool factorise(beam *b)
{
    for (size_t i = 0; i < b->dof_count * (BEAM_BAND + 1); i++)
        b->factor[i] = b->stiffness[i];
    gsl_matrix_view f = band_view(b->factor, b->dof_count);
    return gsl_linalg_cholesky_band_decomp(&f.matrix) == GSL_SUCCESS;
}

caber_status beam_create(const beam_shape *shape, beam **out, caber_message *message)
{
    *out = NULL;
    beam *b = calloc(1, sizeof *b);
    if (!b)
        return message_set(message, CABER_NO_MEMORY, "out of memory");
    b->length = shape->held_at - shape->end_at;
    b->held_at = shape->held_at;
    b->profile = shape->profile;
    b->added = shape->added;
    bool good = mesh_create(b, shape) && cells_create(b, shape);
    if (good) {
        b->dof_count = BEAM_NODE_DOFS * (b->node_count - 1);
        b->point_count = BEAM_GAUSS * b->cell[b->node_count - 1];
        const size_t band = b->dof_count * (BEAM_BAND + 1);
        b->stiffness = calloc(band, sizeof(double));
        b->mass = calloc(band, sizeof(double));
        b->factor = malloc(band * sizeof(double));
        b->point = malloc(b->point_count * sizeof *b->point);
        b->section = malloc(b->point_count * sizeof *b->section);
        good = b->stiffness && b->mass && b->factor && b->point && b->section;
    }
    if (!good) {
        beam_free(b);
        return message_set(message, CABER_NO_MEMORY, "out of memory for the shaft's elements");
    }
    points_fill(b);
    for (size_t e = 0; e + 1 < b->node_count; e++) {
        double k[ELEMENT_DOFS][ELEMENT_DOFS] = {{0}}, m[ELEMENT_DOFS][ELEMENT_DOFS] = {{0}};
        element_stiffness(b, e, 0, b->length, k);
        assemble(b, e, k, b->stiffness);
        if (shape->still)
            continue;
        element_mass(b, e, m);
        assemble(b, e, m, b->mass);
    }
    if (!factorise(b)) {
        beam_free(b);
        return message_set(message, CABER_BAD_INPUT,
                           "the shaft's stiffness matrix is not positive definite");
    }
    *out = b;
    return message_clear(message);
}

void beam_free(beam *b)
{
    if (!b)
        return;
    free(b->node);
    free(b->stiffness);
    free(b->mass);
    free(b->factor);
    free(b->point);
    free(b->section);
    free(b->edge);
    free(b->cell);
    free(b);
}

void beam_add_body(beam *b, const beam_body *body)
{
    const vec3 d = body->centre;
    /* Rows: velocity of the centre of mass, then the rotation, in the end node's dofs. */
    double u[3][BEAM_NODE_DOFS] = {{0}}, r[3][BEAM_NODE_DOFS] = {{0}};
    r[0][BEAM_PHI] = 1;
    r[1][BEAM_W_SLOPE] = -1;
    r[2][BEAM_V_SLOPE] = 1;
    u[0][BEAM_W_SLOPE] = -d.z;
    u[0][BEAM_V_SLOPE] = -d.y;
    u[1][BEAM_V] = 1;
    u[1][BEAM_V_SLOPE] = d.x;
    u[1][BEAM_PHI] = -d.z;
    u[2][BEAM_W] = 1;
    u[2][BEAM_W_SLOPE] = d.x;
    u[2][BEAM_PHI] = d.y;
    const size_t first = b->dof_count - BEAM_NODE_DOFS;
    for (size_t i = 0; i < BEAM_NODE_DOFS; i++)
        for (size_t j = 0; j <= i; j++) {
            double sum = 0;
            for (int a = 0; a < 3; a++) {
                sum += body->mass * u[a][i] * u[a][j];
                for (int c = 0; c < 3; c++)
                    sum += r[a][i] * body->inertia.m[a][c] * r[c][j];
            }
            b->mass[(first + j) * (BEAM_BAND + 1) + (i - j)] += sum;
        }
}

/* The element that holds s, by bisection. */
static size_t element_of(const beam *b, double s)
{
    size_t low = 0, high = b->node_count - 1;
    while (high - low > 1) {
        const size_t mid = (low + high) / 2;
        if (s >= b->node[mid])
            low = mid;
        else
            high = mid;
    }
    return low;
}

/* Element values of u, with zeros for the held node. */
static void element_values(const double *u, size_t e, double out[ELEMENT_DOFS])
{
    for (int i = 0; i < ELEMENT_DOFS; i++) {
        const ptrdiff_t row = (ptrdiff_t)(e * BEAM_NODE_DOFS) + i - BEAM_NODE_DOFS;
        out[i] = row < 0 ? 0 : u[row];
    }
}

static double gather(const int rows[4], const double n[4], const double x[ELEMENT_DOFS])
{
    return n[0] * x[rows[0]] + n[1] * x[rows[1]] + n[2] * x[rows[2]] + n[3] * x[rows[3]];
}

beam_state beam_state_at(const beam *b, const double *u, double s)
{
    const size_t e = element_of(b, s);
    const double h = b->node[e + 1] - b->node[e], t = (s - b->node[e]) / h;
    double x[ELEMENT_DOFS], n0[4], n1[4], n2[4], q[3], q1[3];
    element_values(u, e, x);
    hermite(t, h, 0, n0);
    hermite(t, h, 1, n1);
    hermite(t, h, 2, n2);
    quadratic(t, q);
    quadratic_slope(t, h, q1);
    double phi = 0, twist = 0;
    for (int i = 0; i < 3; i++) {
        phi += q[i] * x[phi_rows[i]];
        twist += q1[i] * x[phi_rows[i]];
    }
    return (beam_state){.v = gather(v_rows, n0, x),
                        .v_slope = gather(v_rows, n1, x),
                        .w = gather(w_rows, n0, x),
                        .w_slope = gather(w_rows, n1, x),
                        .phi = phi,
                        .v_curvature = gather(v_rows, n2, x),
                        .w_curvature = gather(w_rows, n2, x),
                        .twist_rate = twist};
}

void beam_solve(const beam *b, double *f)
{
    gsl_matrix_view a = band_view(b->factor, b->dof_count);
    gsl_vector_view x = gsl_vector_view_array(f, b->dof_count);
    gsl_linalg_cholesky_band_svx(&a.matrix, &x.vector);
}

void beam_multiply(const beam *b, const double *band, const double *x, double *y)
{
    const size_t n = b->dof_count;
    for (size_t i = 0; i < n; i++)
        y[i] = 0;
    for (size_t i = 0; i < n; i++) {
        const double *a = band + i * (BEAM_BAND + 1);
        y[i] += a[0] * x[i];
        for (size_t k = 1; k <= BEAM_BAND && i + k < n; k++) {
            y[i + k] += a[k] * x[i];
            y[i] += a[k] * x[i + k];
        }
    }
}

/* f += the part of an element's forces that is not on the held node. */
static void add_load(size_t e, const double load[ELEMENT_DOFS], double *f)
{
    for (int i = 0; i < ELEMENT_DOFS; i++) {
        const ptrdiff_t row = (ptrdiff_t)(e * BEAM_NODE_DOFS) + i - BEAM_NODE_DOFS;
        if (row >= 0)
            f[row] += load[i];
    }
}

void beam_add_force(const beam *b, double s, double force_v, double force_w, double *f)
{
    const size_t e = element_of(b, s);
    const double h = b->node[e + 1] - b->node[e];
    double n[4], load[ELEMENT_DOFS] = {0};
    hermite((s - b->node[e]) / h, h, 0, n);
    spread(v_rows, n, force_v, load);
    spread(w_rows, n, force_w, load);
    add_load(e, load, f);
}

void beam_add_couple(const beam *b, double s, double couple, double *f)
{
    const size_t e = element_of(b, s);
    double n[3], load[ELEMENT_DOFS] = {0};
    quadratic((s - b->node[e]) / (b->node[e + 1] - b->node[e]), n);
    for (int i = 0; i < 3; i++)
        load[phi_rows[i]] = couple * n[i];
    add_load(e, load, f);
}

void beam_add_end_load(const beam *b, double force_v, double force_w, vec3 couple, double *f)
{
    double *end = f + b->dof_count - BEAM_NODE_DOFS;
    end[BEAM_V] += force_v;
    end[BEAM_W] += force_w;
    end[BEAM_PHI] += couple.x;
    end[BEAM_W_SLOPE] -= couple.y;
    end[BEAM_V_SLOPE] += couple.z;
}

void beam_energy_matrix(const beam *b, const double *shapes, size_t count, double s0, double s1,
                        double *out)
{
    for (size_t i = 0; i < count * count; i++)
        out[i] = 0;
    for (size_t e = 0; e + 1 < b->node_count; e++) {
        if (b->node[e + 1] <= s0 || b->node[e] >= s1)
            continue;
        double k[ELEMENT_DOFS][ELEMENT_DOFS] = {{0}};
        element_stiffness(b, e, s0, s1, k);
        for (size_t j = 0; j < count; j++) {
            double x[ELEMENT_DOFS], kx[ELEMENT_DOFS] = {0};
            element_values(shapes + j * b->dof_count, e, x);
            for (int c = 0; c < ELEMENT_DOFS; c++) /* k is symmetric: its rows are its columns */
                for (int r = 0; r < ELEMENT_DOFS; r++)
                    kx[r] += k[c][r] * x[c];
            for (size_t i = 0; i <= j; i++) {
                double y[ELEMENT_DOFS], sum = 0;
                element_values(shapes + i * b->dof_count, e, y);
                for (int r = 0; r < ELEMENT_DOFS; r++)
                    sum += y[r] * kx[r];
                out[i * count + j] += sum;
                out[j * count + i] = out[i * count + j];
            }
        }
    }
}
