// HAPI FHIR JPA as a clinic's server, on 127.0.0.1:
//   java -cp 'JARS/*:CLASSES' Clinic NAME=JDBC-URL...
// For each database two addresses, /NAME/fhir, and /NAME/checked, which validates whatever is sent and refuses what has an
// error. Prints its port and the names once all of them answer, and ends when standard input does. What stands there can be held to the same validator at any time:
// POST /NAME/fhir/TYPE/$validate.
import ca.uhn.fhir.batch2.jobs.config.Batch2JobsConfig;
import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.context.support.IValidationSupport;
import ca.uhn.fhir.jpa.api.config.JpaStorageSettings;
import ca.uhn.fhir.jpa.api.config.ThreadPoolFactoryConfig;
import ca.uhn.fhir.jpa.api.dao.IFhirSystemDao;
import ca.uhn.fhir.jpa.batch2.JpaBatch2Config;
import ca.uhn.fhir.jpa.config.HapiJpaConfig;
import ca.uhn.fhir.jpa.config.r4.JpaR4Config;
import ca.uhn.fhir.jpa.config.util.HapiEntityManagerFactoryUtil;
import ca.uhn.fhir.jpa.model.config.PartitionSettings;
import ca.uhn.fhir.jpa.model.config.SubscriptionSettings;
import ca.uhn.fhir.jpa.model.dialect.HapiFhirH2Dialect;
import ca.uhn.fhir.jpa.model.dialect.HapiFhirPostgresDialect;
import ca.uhn.fhir.jpa.provider.JpaCapabilityStatementProvider;
import ca.uhn.fhir.jpa.provider.JpaSystemProvider;
import ca.uhn.fhir.jpa.search.DatabaseBackedPagingProvider;
import ca.uhn.fhir.jpa.subscription.channel.config.SubscriptionChannelConfig;
import ca.uhn.fhir.jpa.validation.ValidatorPolicyAdvisor;
import ca.uhn.fhir.rest.server.RestfulServer;
import ca.uhn.fhir.rest.server.interceptor.RequestValidatingInterceptor;
import ca.uhn.fhir.rest.server.provider.ResourceProviderFactory;
import ca.uhn.fhir.rest.server.util.ISearchParamRegistry;
import ca.uhn.fhir.validation.IInstanceValidatorModule;
import ca.uhn.fhir.validation.ResultSeverityEnum;
import jakarta.persistence.EntityManagerFactory;
import java.util.List;
import java.util.Map;
import java.util.Properties;
import java.util.Set;
import java.util.stream.Stream;
import javax.sql.DataSource;
import org.apache.commons.dbcp2.BasicDataSource;
import org.eclipse.jetty.ee10.servlet.ServletContextHandler;
import org.eclipse.jetty.ee10.servlet.ServletHolder;
import org.eclipse.jetty.server.Server;
import org.eclipse.jetty.server.ServerConnector;
import org.hl7.fhir.r5.elementmodel.Element;
import org.hl7.fhir.r5.model.ElementDefinition;
import org.hl7.fhir.r5.model.StructureDefinition;
import org.hl7.fhir.r5.utils.validation.IMessagingServices;
import org.hl7.fhir.r5.utils.validation.IResourceValidator;
import org.hl7.fhir.r5.utils.validation.constants.ReferenceValidationPolicy;
import org.hl7.fhir.utilities.validation.ValidationMessage;
import org.hl7.fhir.validation.instance.advisor.BasePolicyAdvisorForFullValidation;
import org.springframework.beans.factory.config.ConfigurableListableBeanFactory;
import org.springframework.context.annotation.AnnotationConfigApplicationContext;
import org.springframework.context.annotation.Bean;
import org.springframework.context.annotation.Configuration;
import org.springframework.context.annotation.Import;
import org.springframework.context.annotation.Primary;
import org.springframework.core.env.Environment;
import org.springframework.core.env.MapPropertySource;
import org.springframework.orm.jpa.JpaTransactionManager;
import org.springframework.orm.jpa.LocalContainerEntityManagerFactoryBean;

public class Clinic {
    public static void main(String[] args) throws Exception {
        var jetty = new Server();
        var connector = new ServerConnector(jetty);
        connector.setHost("127.0.0.1");
        jetty.addConnector(connector);
        var servlets = new ServletContextHandler();
        servlets.setContextPath("/");
        for (var arg : args) {
            var at = arg.split("=", 2);
            var spring = new AnnotationConfigApplicationContext();
            spring.getEnvironment().getPropertySources()
                    .addFirst(new MapPropertySource("clinic", Map.of("clinic.url", at[1])));
            spring.register(Store.class);
            spring.refresh();
            servlets.addServlet(new ServletHolder(server(spring, false)), "/" + at[0] + "/fhir/*");
            servlets.addServlet(new ServletHolder(server(spring, true)), "/" + at[0] + "/checked/*");
        }
        jetty.setHandler(servlets);
        jetty.start();
        var names = String.join(" ", Stream.of(args).map(arg -> arg.split("=")[0]).toList());
        System.out.println(connector.getLocalPort() + " " + names);
        while (System.in.read() != -1) {
        }
        Runtime.getRuntime().halt(0);
    }

    static RestfulServer server(AnnotationConfigApplicationContext spring, boolean checks) {
        var server = new RestfulServer(spring.getBean(FhirContext.class));
        server.registerProviders(spring.getBean(ResourceProviderFactory.class).createProviders());
        server.registerProvider(spring.getBean(JpaSystemProvider.class));
        server.setPagingProvider(spring.getBean(DatabaseBackedPagingProvider.class));
        server.setServerConformanceProvider(new JpaCapabilityStatementProvider(
                server, spring.getBean(IFhirSystemDao.class), spring.getBean(JpaStorageSettings.class),
                spring.getBean(ISearchParamRegistry.class), spring.getBean("myJpaValidationSupport", IValidationSupport.class)));
        if (checks) {
            var interceptor = new RequestValidatingInterceptor();
            interceptor.addValidatorModule(spring.getBean(IInstanceValidatorModule.class));
            interceptor.setFailOnSeverity(ResultSeverityEnum.ERROR);
            server.registerInterceptor(interceptor);
        }
        return server;
    }

    @Configuration
    @Import({HapiJpaConfig.class, JpaR4Config.class, JpaBatch2Config.class, Batch2JobsConfig.class,
        SubscriptionChannelConfig.class, ThreadPoolFactoryConfig.class})
    public static class Store {
        @Bean
        public JpaStorageSettings storageSettings() {
            var settings = new JpaStorageSettings();
            // What was stored a moment ago is found.
            settings.setReuseCachedSearchResultsForMillis(null);
            return settings;
        }

        @Bean
        public PartitionSettings partitionSettings() {
            return new PartitionSettings();
        }

        @Bean
        public SubscriptionSettings subscriptionSettings() {
            return new SubscriptionSettings();
        }

        @Bean
        public DataSource dataSource(Environment environment) {
            var source = new BasicDataSource();
            source.setUrl(environment.getProperty("clinic.url"));
            source.setMaxTotal(16);
            return source;
        }

        @Primary
        @Bean
        public LocalContainerEntityManagerFactoryBean entityManagerFactory(
                DataSource source, ConfigurableListableBeanFactory beans, FhirContext fhir, JpaStorageSettings settings,
                Environment environment) {
            var factory = HapiEntityManagerFactoryUtil.newEntityManagerFactory(beans, fhir, settings);
            factory.setPersistenceUnitName("clinic");
            factory.setDataSource(source);
            var more = new Properties();
            var isH2 = environment.getProperty("clinic.url").startsWith("jdbc:h2:");
            more.put("hibernate.dialect", (isH2 ? HapiFhirH2Dialect.class : HapiFhirPostgresDialect.class).getName());
            more.put("hibernate.hbm2ddl.auto", "update");
            more.put("hibernate.search.enabled", "false");
            factory.setJpaProperties(more);
            return factory;
        }

        @Primary
        @Bean
        public JpaTransactionManager transactionManager(EntityManagerFactory factory) {
            return new JpaTransactionManager(factory);
        }

        // Observations are held to FHIR's own profiles by their codes, whatever they claim themselves.
        @Bean
        public ValidatorPolicyAdvisor jpaValidatorPolicyAdvisor() {
            var full = new BasePolicyAdvisorForFullValidation(ReferenceValidationPolicy.CHECK_TYPE_IF_EXISTS, Set.of());
            return new ValidatorPolicyAdvisor() {
                @Override
                public List<StructureDefinition> getImpliedProfilesForResource(
                        IResourceValidator validator, Object context, String path, ElementDefinition definition,
                        StructureDefinition structure, Element resource, boolean valid, IMessagingServices messages,
                        List<ValidationMessage> said) {
                    return full.getImpliedProfilesForResource(
                            validator, context, path, definition, structure, resource, valid, messages, said);
                }
            };
        }
    }
}
