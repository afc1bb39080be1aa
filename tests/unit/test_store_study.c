/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check.h"
int main(void){return 0;}
