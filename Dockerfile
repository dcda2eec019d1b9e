# Two builders with the Makefile's own steps, and an image that holds one static program.

FROM node:22-bookworm AS static
WORKDIR /src
COPY Makefile package.json package-lock.json ./
RUN make node_modules/.package-lock.json
COPY static static
RUN make static

FROM golang:1.26.8-bookworm AS build
WORKDIR /src
COPY go.mod go.sum ./
RUN go mod download
COPY . .
COPY --from=static /src/static/dist static/dist
RUN make binary

FROM debian:bookworm-slim
RUN useradd --system --uid 10001 --home-dir /data --create-home frywright
COPY --from=build /etc/ssl/certs/ca-certificates.crt /etc/ssl/certs/
COPY --from=build /src/bin/frywright /usr/local/bin/
USER frywright
WORKDIR /data
VOLUME /data
EXPOSE 8080 443 80
HEALTHCHECK --interval=30s --timeout=5s --start-period=30s CMD ["frywright", "healthcheck"]
ENTRYPOINT ["frywright"]
CMD ["serve", "--data", "/data", "--listen", ":8080"]
