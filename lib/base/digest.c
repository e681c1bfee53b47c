/* SPDX-License-Identifier: MIT */
#include "digest.h"

#include <errno.h>
#include <fcntl.h>
#include <sha2.h>
#include <string.h>
#include <unistd.h>

static int digest_fd(char text[NOD_DIGEST_TEXT], int fd)
{
	unsigned char buf[16384];
	SHA2_CTX sha;
	ssize_t n;

	SHA256Init(&sha);
	while ((n = read(fd, buf, sizeof(buf))) != 0) {
		if (n < 0 && errno == EINTR)
			continue;
		if (n < 0)
			return -errno;
		SHA256Update(&sha, buf, (size_t)n);
	}
	SHA256End(&sha, text);
	return 0;
}

void nod_digest_bytes(char text[NOD_DIGEST_TEXT], const void *bytes, size_t length)
{
	SHA2_CTX sha;

	SHA256Init(&sha);
	SHA256Update(&sha, bytes, length);
	SHA256End(&sha, text);
}

int nod_digest_file(char text[NOD_DIGEST_TEXT], const char *path, struct nod_error *err)
{
	int fd = open(path, O_RDONLY | O_CLOEXEC);
	int result = fd < 0 ? -errno : digest_fd(text, fd);

	if (fd >= 0)
		close(fd);
	if (result)
		nod_error_set(err, -result, "%s: cannot be read: %s", path, strerror(-result));
	return result;
}
