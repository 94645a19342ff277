import { z } from 'zod';
import { combtoneVersion } from '../study/version.ts';
import { errorSchema, streamSchema } from './api.ts';
import { type RouteShape, routes } from './route-table.ts';

type Json = Readonly<Record<string, unknown>>;

const schemaOf = (schema: z.ZodType, io: 'input' | 'output'): Json => {
  const { $schema: _, ...rest } = z.toJSONSchema(schema, { io, unrepresentable: 'any' });
  return rest;
};

/** The OpenAPI 3.1 document of the service, made of the schemas that requests are checked by. */
export function openApiDocument(): Json {
  const paths: Record<string, Record<string, Json>> = {};
  for (const [name, route] of Object.entries(routes) as [string, RouteShape][]) {
    const path = route.path.replaceAll(/:(\w+)/g, '{$1}');
    paths[path] = { ...paths[path], [route.method.toLowerCase()]: operation(name, route) };
  }
  return {
    openapi: '3.1.0',
    info: {
      title: 'combtone review service',
      version: combtoneVersion,
      description: 'Times are s from the recording’s start; clock times ISO 8601; null is unknown.',
    },
    security: [{ cookie: [] }, { bearer: [] }],
    paths,
    components: {
      schemas: { Stream: schemaOf(streamSchema, 'output') },
      securitySchemes: {
        cookie: { type: 'apiKey', in: 'cookie', name: 'combtone-PORT' },
        bearer: { type: 'http', scheme: 'bearer' },
      },
    },
  };
}

function operation(name: string, { summary, params, query, body, answer, others = {} }: RouteShape): Json {
  const content = (schema: z.ZodType, io: 'input' | 'output') => ({
    'application/json': { schema: schemaOf(schema, io) },
  });
  const answers = Object.entries(others).map(([status, schema]) => [
    status,
    { description: status === '409' ? 'Nothing was changed' : 'Refused', content: content(schema, 'output') },
  ]);
  const ok =
    typeof answer === 'string'
      ? { [answer]: { schema: { type: 'string', format: 'binary' } } }
      : content(answer, 'output');
  return {
    operationId: name,
    summary,
    parameters: [...parameters('path', params), ...parameters('query', query)],
    ...(body === undefined ? {} : { requestBody: { required: true, content: content(body, 'input') } }),
    responses: {
      200: { description: 'Done', content: ok },
      ...Object.fromEntries(answers),
      default: { description: 'Refused or failed', content: content(errorSchema, 'output') },
    },
  };
}

function parameters(place: 'path' | 'query', schema: z.ZodType | undefined): Json[] {
  if (schema === undefined) return [];
  const { properties = {}, required = [] } = schemaOf(schema, 'output') as {
    properties?: Record<string, Json>;
    required?: string[];
  };
  return Object.entries(properties).map(([name, one]) => ({
    name,
    in: place,
    // What has a default may be left out.
    required: place === 'path' || (required.includes(name) && !('default' in one)),
    schema: one,
  }));
}
